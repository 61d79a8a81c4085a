"""One file a deed; joins the rooms below and is their only door for those above."""
