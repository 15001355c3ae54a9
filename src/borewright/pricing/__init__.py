"""pricing"""
