"""What can be measured in an array of samples. Knows nothing of files and plants."""
