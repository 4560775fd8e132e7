"""Every answer that no other answer beats on every wish."""
