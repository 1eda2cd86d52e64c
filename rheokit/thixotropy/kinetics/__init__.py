"""Structure kinetics: one inner structure that shear breaks and rest rebuilds, simulated, fitted and used to predict."""
