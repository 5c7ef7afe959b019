"""What a cut sheet of card does: parts, necks, bridges, flaps, and the sizes that hold."""
