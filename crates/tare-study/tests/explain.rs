//! An explanation is enough to work the number out again: its own text, read back and evaluated, gives what the graph gave.

mod explain {
    mod again;
    mod random;
    mod studies;
}
