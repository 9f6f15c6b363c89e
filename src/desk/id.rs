//! Names of the things that the desk keeps.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::record::stream::{StreamId, StreamKind};

macro_rules! id {
    ($(#[$doc:meta])* $type:ident, $kind:expr) => {
        $(#[$doc])*
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
        )]
        #[serde(transparent)]
        pub struct $type(pub Uuid);

        impl $type {
            /// The stream of entries about it.
            pub const fn stream(self) -> StreamId {
                StreamId::new($kind, self.0)
            }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl FromStr for $type {
            type Err = uuid::Error;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                Uuid::parse_str(text).map(Self)
            }
        }
    };
}

id!(
    /// One job.
    JobId,
    StreamKind::Job
);
id!(
    /// One evaporator.
    EvaporatorId,
    StreamKind::Evaporator
);
id!(
    /// One crew.
    CrewId,
    StreamKind::Crew
);
