//! The shipped examples are compiled in; a file that is added to them must reach the program.
fn main() {
    println!("cargo::rerun-if-changed=../../examples");
}
