//! The migrations are compiled in; a new file among them must be noticed.

fn main() {
    println!("cargo::rerun-if-changed=../../migrations");
}
