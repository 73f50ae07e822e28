"""Correlations: flow and heat transfer inside tubes, and air over finned coils."""
