//! One program for all targets: `FUZZ_TARGET` says which, libFuzzer does the rest.
#![no_main]
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::panic,
    reason = "parts of the tests, of which not all is used here"
)]

use std::path::PathBuf;
use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;

/// The same names that the tests have.
mod flow {
    #[path = "../../../../flow/scope.rs"]
    pub(crate) mod scope;
}

mod mutants {
    pub(crate) mod fuzz {
        pub(crate) const PIECES: &[&str] = &[];
    }
}

mod security {
    #[path = "../../../../security/photos.rs"]
    pub(crate) mod photos;
}

mod fuzz {
    #[path = "../../../seeds.rs"]
    pub(crate) mod seeds;
    #[path = "../../../targets.rs"]
    pub(crate) mod targets;
}

use fuzz::targets::{TARGETS, Target};

static TARGET: LazyLock<&Target> = LazyLock::new(|| {
    let name = std::env::var("FUZZ_TARGET").expect("FUZZ_TARGET names a target");
    let found = TARGETS.iter().find(|target| target.name == name);
    let target = found.unwrap_or_else(|| panic!("there is no target {name}"));
    // The seeds, where libFuzzer is told to look for them.
    if let Some(folder) = std::env::var_os("FUZZ_SEEDS").map(PathBuf::from) {
        for (at, seed) in fuzz::seeds::seeds(&name).iter().enumerate() {
            std::fs::write(folder.join(format!("seed-{at}")), seed).unwrap();
        }
    }
    target
});

fuzz_target!(
    init: {
        LazyLock::force(&TARGET);
    },
    |bytes: &[u8]| {
        (TARGET.read)(bytes);
    }
);
