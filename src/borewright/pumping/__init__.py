"""pumping"""
