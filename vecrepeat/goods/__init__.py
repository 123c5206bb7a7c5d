"""What the trade prints on: cloth lengths, wallpaper rolls and drops, screens."""
