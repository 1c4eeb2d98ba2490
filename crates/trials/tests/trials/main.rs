//! One binary for everything that reads a folder or runs another program.

mod ampacity;
mod architecture;
mod battery;
mod board;
mod closed_forms;
mod command_line;
mod damage_time;
mod diagram;
mod faults;
mod faults_slow;
mod fuzz;
mod gannet;
mod heat;
mod heat_bundle;
mod import;
mod laws;
mod manual;
mod mass;
mod near;
mod oracle;
mod schema;
mod sensors;
mod separate;
mod shop;
mod snapshots;
mod validation;
