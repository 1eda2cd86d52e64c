"""Thixotropy: what a history of shear leaves behind."""
