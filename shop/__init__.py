"""Facewright keeps the surfaces of injection moulds in their finish for the life of the tool."""

__version__ = "0.1.0"
