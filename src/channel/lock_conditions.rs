//! What has to hold before the lock of somebody who is away comes off: the three conditions of
//! 29 CFR 1910.147(e)(3), confirmed one by one.

/// What has to hold before another person's lock comes off.
pub struct Condition {
    /// The field that says it was confirmed.
    pub word: &'static str,
    /// The sentence; `{name}` is the owner of the lock.
    pub say: &'static str,
    /// What the button confirms.
    pub confirm: &'static str,
    /// Where it is published.
    pub cite: &'static str,
}

/// All of them, in the order of the rule.
pub const CONDITIONS: [Condition; 3] = [
    Condition {
        word: "not_here",
        say: "Is {name} away from the site? Walk round. Ask at the desk. Look for the van.",
        confirm: "I checked: {name} is not on the site",
        cite: "29 CFR 1910.147(e)(3)(i)",
    },
    Condition {
        word: "tried_to_reach",
        say: "Call {name}. Try every number and whoever may know where they are. Tell them that \
              the lock comes off.",
        confirm: "I did all I could to reach {name}",
        cite: "29 CFR 1910.147(e)(3)(ii)",
    },
    Condition {
        word: "will_know",
        say: "{name} must know that the lock is gone before they work here again. See to it \
              yourself, or name somebody who does.",
        confirm: "{name} will know before working here again",
        cite: "29 CFR 1910.147(e)(3)(iii)",
    },
];

impl Condition {
    /// One of its sentences, about this owner of a lock.
    pub fn named(text: &str, name: &str) -> String {
        text.replace("{name}", name)
    }
}
