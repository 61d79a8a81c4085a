"""Files in: decode, channels, blocks. The only room that knows soundfile, soxr and PyAV."""
