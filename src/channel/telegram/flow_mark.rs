//! A flow as a button carries it.

use crate::desk::screen::FlowChoice;
use crate::flow::name::FlowName;

/// A flow by the check sum of its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FlowMark(pub u32);

impl FlowMark {
    /// The mark of this flow.
    pub fn of(flow: &FlowName) -> FlowMark {
        FlowMark(crc32fast::hash(flow.as_str().as_bytes()))
    }

    /// The flow that it means, if a job can still begin with it.
    pub fn find(self, flows: &[FlowChoice]) -> Option<&FlowChoice> {
        flows
            .iter()
            .find(|choice| FlowMark::of(&choice.flow) == self)
    }
}
