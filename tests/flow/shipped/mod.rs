//! The flows that come with the program, walked by scripts from the first screen to each end.

mod ends;
mod hazards;
mod walker;
