"""Walks that last a day: screened for walking, analysed stretch by stretch, never held in memory."""
