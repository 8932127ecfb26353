//! The pages' files are carried in the program; a changed or new one is noticed.

fn main() {
    println!("cargo:rerun-if-changed=assets");
}
