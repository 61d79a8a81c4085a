"""Earwitness: from what an inspector hears with an ultrasonic receiver to a repair that is made, proven and paid for."""

__version__ = "0.1.0"
