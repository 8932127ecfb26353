//! A release as an earlier program made it, kept for later ones: they reproduce it, or say plainly why not.
