"""Readings -> depths, doubtful cans, water balance, indices, depth map, dry spots, patches."""
