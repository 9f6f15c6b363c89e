//! One step of one walk through one flow.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::flow::name::{FlowName, StepName};

/// One step of one walk through one flow. As text: `mount/1/drip_loop`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct StepRef {
    /// The flow.
    pub flow: FlowName,
    /// Which time it was walked in this job, from 1.
    pub instance: u32,
    /// The step.
    pub step: StepName,
}

impl fmt::Display for StepRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}/{}", self.flow, self.instance, self.step)
    }
}

/// A text that names no step.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("“{0}” names no step. Write the flow, its number and the step, such as mount/1/drip_loop.")]
pub struct NotAStep(pub String);

impl FromStr for StepRef {
    type Err = NotAStep;

    fn from_str(text: &str) -> Result<StepRef, NotAStep> {
        let wrong = || NotAStep(text.to_owned());
        let mut parts = text.split('/');
        let (Some(flow), Some(instance), Some(step), None) =
            (parts.next(), parts.next(), parts.next(), parts.next())
        else {
            return Err(wrong());
        };
        let instance = instance.parse().map_err(|_| wrong())?;
        if flow.is_empty() || step.is_empty() {
            return Err(wrong());
        }
        Ok(StepRef {
            flow: FlowName::from(flow),
            instance,
            step: StepName::from(step),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_reads_back_from_its_text() {
        let step = StepRef {
            flow: FlowName::from("mount"),
            instance: 2,
            step: StepName::from("drip_loop"),
        };
        assert_eq!(step.to_string(), "mount/2/drip_loop");
        assert_eq!(step.to_string().parse(), Ok(step));
    }

    #[test]
    fn what_names_no_step_is_refused() {
        for text in [
            "",
            "mount",
            "mount/2",
            "mount/x/a",
            "/1/a",
            "mount/1/",
            "mount/1/a/b",
        ] {
            assert_eq!(text.parse::<StepRef>(), Err(NotAStep(text.to_owned())));
        }
    }
}
