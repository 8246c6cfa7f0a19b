"""How pieces lie against each other in their joints: room for nuts and tools, angle in angle, stamps."""
