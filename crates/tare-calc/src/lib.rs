//! Calculation text to tree to checked, lowered template.
