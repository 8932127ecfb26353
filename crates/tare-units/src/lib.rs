//! Dimensions, units, quantity text with spread: parse and print.
