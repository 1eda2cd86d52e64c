"""Measuring geometries: torque and speed to shear stress and shear rate, and back."""
