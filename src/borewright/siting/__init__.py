"""siting"""
