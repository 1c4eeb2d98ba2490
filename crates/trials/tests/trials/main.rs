//! One binary for everything that reads a folder or runs another program.

mod architecture;
mod closed_forms;
mod gannet;
mod laws;
mod oracle;
mod validation;
