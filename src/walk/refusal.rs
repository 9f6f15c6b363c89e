//! Why an input had no effect: one friendly sentence each, all wording in one place.

use crate::flow::model::Role;

/// Why an input was refused. Nothing was lost and nothing was changed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// The button belongs to an earlier screen.
    #[error("That button is from an earlier screen. Here is where the job stands.")]
    Stale,
    /// What was typed was meant for another question than the one that is asked now.
    #[error("That came before this question. Read it and answer again.")]
    CameBefore,
    /// The answer has another shape than the question.
    #[error("{0}")]
    WrongShape(String),
    /// A reading could not be understood.
    #[error("{0}")]
    NotUnderstood(String),
    /// A reading cannot be true.
    #[error("{0}")]
    NotPlausible(String),
    /// The reading fits two meanings: ask which.
    #[error("{0}")]
    Ambiguous(String),
    /// Somebody else has to do this.
    #[error("{}", needs_role(.0))]
    NeedsRole(Vec<Role>),
    /// The person has not shown what the step needs.
    #[error(
        "This step is for somebody who has shown: {}. A supervisor signs that, or somebody who \
         has it stands beside you.",
        .0.join(", ")
    )]
    NeedsShown(Vec<String>),
    /// The job is in another person's hands.
    #[error("This job is in {holder}'s hands. Ask them to hand it over.")]
    NotYours {
        /// A word for the holder; the desk puts the name in.
        holder: String,
    },
    /// Only the person at the evaporator can answer it.
    #[error("This step is hands-on. Only {holder}, who is at the evaporator, answers it.")]
    HandsOn {
        /// A word for the holder; the desk puts the name in.
        holder: String,
    },
    /// A wait is not over.
    #[error("Not yet: {seconds_left} s to go. The button comes when the time is over.")]
    TooEarly {
        /// What is left of it.
        seconds_left: i64,
    },
    /// The job is paused, stopped, offered or over.
    #[error("{0}")]
    NotNow(String),
    /// There is nothing to go back to.
    #[error("This is the first step. There is nothing to go back to.")]
    NoWayBack,
    /// A rule of lockout forbids it.
    #[error("{0}")]
    LockRule(String),
    /// A condition needs a fact that has no value.
    #[error("This step needs “{fact}”, and that is not known. Go back and answer it first.")]
    Unknown {
        /// What the checklist calls it.
        fact: String,
    },
}

fn needs_role(roles: &[Role]) -> String {
    let words: Vec<&str> = roles.iter().map(|role| role.with_article()).collect();
    format!(
        "This step is for {}. Ask them to answer from their own account.",
        words.join(" or ")
    )
}

impl Role {
    /// `an apprentice`, `a technician`.
    pub fn with_article(self) -> &'static str {
        match self {
            Role::Apprentice => "an apprentice",
            Role::Technician => "a technician",
            Role::Electrician => "a licensed electrician",
            Role::Supervisor => "a supervisor",
        }
    }
}
