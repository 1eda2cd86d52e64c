"""The ink inside the pen: holding, feeding, writing, filling and gas."""
