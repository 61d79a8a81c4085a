"""The picture that shows the reason, from sound and hearing."""
