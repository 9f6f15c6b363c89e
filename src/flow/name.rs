//! Names: short texts that may not be mixed up with each other.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

macro_rules! name {
    ($(#[$doc:meta])* $type:ident) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(from = "String", into = "String")]
        pub struct $type(Arc<str>);

        impl $type {
            /// The name as text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl From<&str> for $type {
            fn from(text: &str) -> Self {
                Self(Arc::from(text))
            }
        }

        impl From<String> for $type {
            fn from(text: String) -> Self {
                Self(Arc::from(text))
            }
        }

        impl From<$type> for String {
            fn from(name: $type) -> Self {
                name.0.as_ref().to_owned()
            }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl std::borrow::Borrow<str> for $type {
            fn borrow(&self) -> &str {
                &self.0
            }
        }
    };
}

name!(
    /// The name of a flow, as other flows run it: `make-safe`.
    FlowName
);
name!(
    /// The name of a step within its flow: `look_at_plug`.
    StepName
);
name!(
    /// The name of a fact within its flow: `supply`.
    FactName
);
name!(
    /// The name of an energy source: `fan_circuit`.
    SourceName
);
name!(
    /// The name of an outcome of a flow: `connected`.
    OutcomeName
);
name!(
    /// The key of one choice: `plug`.
    ChoiceKey
);
name!(
    /// The name of a picture, without its ending: `plug-and-socket`.
    PictureName
);
name!(
    /// The name of what somebody can have shown, the same in all flows of a crew: `live_tests`.
    CompetenceName
);
