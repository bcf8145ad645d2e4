"""What the engines of declared timing that keep ages in steps have in common: ticks and regions."""
