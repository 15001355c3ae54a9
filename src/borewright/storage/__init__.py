"""storage"""
