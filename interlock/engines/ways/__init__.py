"""`always_possible` under declared timing, exact in dense time: which ages leave a way open, situation by situation."""
