"""What layout programs write, read: lists of where parts sit, the size of packages, the board's edge.

A *part position list* says where every part has its centre. Nothing here touches a frame.
"""
