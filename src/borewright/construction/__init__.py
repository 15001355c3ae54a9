"""construction"""
