//! The refrigerants that a walk-in's nameplate may name, and what their safety group changes.

use std::fmt;

pub(crate) mod formulas;

/// A refrigerant whose saturation this program knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Refrigerant {
    /// R-404A, a blend with a glide below 1 °F.
    R404A,
    /// R-507A, an azeotrope.
    R507A,
    /// R-448A, a blend with a wide glide.
    R448A,
    /// R-449A, a blend with a wide glide.
    R449A,
    /// R-454C, a mildly flammable blend with a wide glide.
    R454C,
    /// R-455A, a mildly flammable blend with a very wide glide.
    R455A,
    /// R-134a.
    R134a,
    /// R-290, propane.
    R290,
    ///
    R22,
    /// R-744, carbon dioxide.
    R744,
}

/// A safety group of ASHRAE Standard 34 that occurs among these refrigerants.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SafetyGroup {
    /// Lower toxicity, no flame propagation.
    A1,
    /// Lower toxicity, lower flammability, burning velocity at most 10 cm/s.
    A2L,
    /// Lower toxicity, higher flammability.
    A3,
}

/// Every refrigerant with the word that flows use for it.
pub const NAMES: &[&str] = &[
    "R-404A", "R-507A", "R-448A", "R-449A", "R-454C", "R-455A", "R-134a", "R-290", "R-22", "R-744",
];

impl Refrigerant {
    /// Every refrigerant, in the order of [`NAMES`].
    pub const ALL: [Self; 10] = [
        Self::R404A,
        Self::R507A,
        Self::R448A,
        Self::R449A,
        Self::R454C,
        Self::R455A,
        Self::R134a,
        Self::R290,
        Self::R22,
        Self::R744,
    ];

    /// The refrigerant that a nameplate or a person calls `text`: `R-448A`, `r448a`, `448A`,
    /// `propane`, `CO2`. `None` for anything else, also for a refrigerant of no concern here.
    pub fn named(text: &str) -> Option<Self> {
        let folded: String = text
            .chars()
            .filter(|c| c.is_ascii_alphanumeric())
            .map(|c| c.to_ascii_uppercase())
            .collect();
        let number = match folded.as_str() {
            "PROPANE" => "290",
            "CO2" | "CARBONDIOXIDE" => "744",
            other => other.strip_prefix('R').unwrap_or(other),
        };
        Self::ALL
            .into_iter()
            .find(|one| one.name()[2..].eq_ignore_ascii_case(number))
    }

    /// Its number as ASHRAE Standard 34 writes it.
    pub fn name(self) -> &'static str {
        match self {
            Self::R404A => "R-404A",
            Self::R507A => "R-507A",
            Self::R448A => "R-448A",
            Self::R449A => "R-449A",
            Self::R454C => "R-454C",
            Self::R455A => "R-455A",
            Self::R134a => "R-134a",
            Self::R290 => "R-290",
            Self::R22 => "R-22",
            Self::R744 => "R-744",
        }
    }

    /// Its safety group (ASHRAE Standard 34; from memory, so the nameplate decides).
    pub fn safety_group(self) -> SafetyGroup {
        match self {
            Self::R404A
            | Self::R507A
            | Self::R448A
            | Self::R449A
            | Self::R134a
            | Self::R22
            | Self::R744 => SafetyGroup::A1,
            Self::R454C | Self::R455A => SafetyGroup::A2L,
            Self::R290 => SafetyGroup::A3,
        }
    }

    /// What changes in the work because of this refrigerant, one sentence each, in the order in
    /// which it matters. Common practice, no source; local codes and the maker's sheet decide.
    pub fn changes(self) -> Vec<&'static str> {
        let mut changes = self.safety_group().changes().to_vec();
        match self {
            Self::R744 => changes.extend([
                "Carbon dioxide can suffocate: wear a personal CO2 monitor; if it alarms, get out \
                 and do not troubleshoot.",
                "Standstill pressure is very high, and liquid shut in between two valves can \
                 burst a pipe: never trap liquid.",
                "Vented below 60.4 psig it turns to dry ice.",
            ]),
            _ => changes.push(
                "It is heavier than air and can displace it: if you feel unwell or an alarm \
                 sounds, get out.",
            ),
        }
        changes
    }
}

impl SafetyGroup {
    /// As ASHRAE Standard 34 writes it.
    pub fn name(self) -> &'static str {
        match self {
            Self::A1 => "A1",
            Self::A2L => "A2L",
            Self::A3 => "A3",
        }
    }

    /// Whether it can burn, so that ignition sources count.
    pub fn is_flammable(self) -> bool {
        match self {
            Self::A1 => false,
            Self::A2L | Self::A3 => true,
        }
    }

    /// What changes in the work, one sentence each.
    fn changes(self) -> &'static [&'static str] {
        match self {
            Self::A1 => &[],
            Self::A2L | Self::A3 => &[
                "It can burn: put a leak monitor on the floor before opening anything and keep it \
                 there.",
                "Clip the meter on with the power off, step back, then switch on and read.",
                "No flame, heat gun or spark; nothing is brazed before the refrigerant is \
                 recovered and the pipe is purged with nitrogen.",
                "The fan motor is part of the listing against ignition: only the part that the \
                 maker names, or one the maker confirms as equal.",
                "The fan or the detector may be the protection against a leak: do not lock out the \
                 detector, and never set the fan below the maker's minimum air flow.",
                "Switch on again only after a leak test.",
            ],
        }
    }
}

impl fmt::Display for Refrigerant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl fmt::Display for SafetyGroup {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refrigerant_is_found_however_it_is_written() {
        for (text, refrigerant) in [
            ("R-448A", Refrigerant::R448A),
            ("r448a", Refrigerant::R448A),
            ("448 A", Refrigerant::R448A),
            ("R134A", Refrigerant::R134a),
            ("R22", Refrigerant::R22),
            ("CO2", Refrigerant::R744),
            ("Propane", Refrigerant::R290),
        ] {
            assert_eq!(Refrigerant::named(text), Some(refrigerant), "{text}");
        }
        for text in ["R-717", "", "R", "22A", "R-404"] {
            assert_eq!(Refrigerant::named(text), None, "{text}");
        }
    }

    #[test]
    fn names_are_listed_in_order() {
        let names: Vec<&str> = Refrigerant::ALL.iter().map(|one| one.name()).collect();
        assert_eq!(names, NAMES);
    }

    #[test]
    fn a_flammable_refrigerant_changes_the_work() {
        assert!(Refrigerant::R290.changes().len() > Refrigerant::R22.changes().len());
        assert!(
            Refrigerant::R744
                .changes()
                .iter()
                .any(|text| text.contains("CO2 monitor"))
        );
    }
}
