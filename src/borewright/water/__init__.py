"""water"""
