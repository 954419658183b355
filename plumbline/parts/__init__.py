"""What a layout is built of: parts list, cutting list, prices."""
