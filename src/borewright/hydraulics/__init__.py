"""hydraulics"""
