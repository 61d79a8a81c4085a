"""How the weights of evidence were fitted: one script a kind, run by hand, writing hearing/weights/KIND.json."""
