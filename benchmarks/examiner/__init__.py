"""An examiner that knows nothing of the program: it makes survey folders from the physics of the sources and scores
what `earwitness survey` says.

Written apart from the program's own simulator and detectors, from published descriptions and common practice.
Marks in the docstrings: P common practice, M from memory.
"""
