"""What the sound means: evidence for and against, then a verdict. One file a detector."""
