//! The replacement assemblies that a crew carries.
//!
//! A kit is one YAML file per crew. Quantities are text with their unit (`1550 rpm`), ranges are
//! text with `to` between (`187 V to 253 V`), curve points are `600 cfm at 0.12 in wg` at
//! standard air. Unknown and duplicate keys are errors with line and column. A kit's revision is
//! the hash of its text, so it can be shared and pinned.

mod assembly;
mod drain;
mod file;

pub use assembly::{
    AirDirection, Approval, Assembly, AssemblyKey, Blade, End, Rotation, SettingName, Speed, Spin,
};
pub use drain::{Drain, DrainSetting, ShaftPosition};

use super::goods::{Problem, Revision, parse};

/// More assemblies than this in one kit are refused.
const ASSEMBLIES_MAX: usize = 2_000;

/// A crew's replacement assemblies, as its kit file lists them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kit {
    name: String,
    crew: String,
    assemblies: Vec<Assembly>,
    revision: Revision,
}

impl Kit {
    /// Reads the text of a kit file.
    ///
    /// # Errors
    /// With the place of the first thing that is not as it should be.
    pub fn read(text: &str) -> Result<Self, Problem> {
        let file: file::KitFile = parse(text)?;
        if file.assemblies.len() > ASSEMBLIES_MAX {
            return Err(file.kit_problem(format!(
                "A kit may list at most {ASSEMBLIES_MAX} assemblies; this one has {}.",
                file.assemblies.len()
            )));
        }
        let (name, crew) = file.titles()?;
        let assemblies = file
            .assemblies
            .iter()
            .map(|(key, raw)| raw.assembly(key))
            .collect::<Result<_, _>>()?;
        Ok(Self {
            name,
            crew,
            assemblies,
            revision: Revision::of(text),
        })
    }

    /// A kit of `assemblies` that was not read from a file; it has no revision.
    pub fn of(assemblies: Vec<Assembly>) -> Self {
        Self {
            assemblies,
            ..Self::default()
        }
    }

    /// What the kit is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The crew it belongs to.
    pub fn crew(&self) -> &str {
        &self.crew
    }

    /// Its assemblies in the order of the file.
    pub fn assemblies(&self) -> &[Assembly] {
        &self.assemblies
    }

    /// The assembly called `key`.
    pub fn assembly(&self, key: &str) -> Option<&Assembly> {
        self.assemblies
            .iter()
            .find(|assembly| assembly.key.as_str() == key)
    }

    /// The hash of the text it was read from.
    pub fn revision(&self) -> &Revision {
        &self.revision
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEMO: &str = include_str!("../../flows/demo/kit.yaml");

    /// The problem of the demo kit with `from` replaced by `to` once.
    fn problem(from: &str, to: &str) -> String {
        assert!(DEMO.contains(from), "{from}");
        Kit::read(&DEMO.replacen(from, to, 1))
            .unwrap_err()
            .to_string()
    }

    #[test]
    fn the_demo_kit_reads_whole() {
        let kit = Kit::read(DEMO).unwrap();
        assert_eq!(kit.crew(), "Northwind Quay cold rooms");
        assert_eq!(kit.assemblies().len(), 4);
        let medium = kit.assembly("ec-b-medium").unwrap();
        assert_eq!(medium.speeds.len(), 4);
        assert_eq!(medium.place_of(&medium.leaves_box_at), Some(2));
        assert_eq!(medium.protection.to_string(), "IP55");
    }

    #[test]
    fn a_kit_has_only_so_many_assemblies() {
        let (head, rest) = DEMO.split_once("  ec-a-small:\n").unwrap();
        let (one, _) = rest.split_once("\n  ec-").unwrap();
        let kit = |count| {
            let assemblies = (0..count).map(|at| format!("  ec-{at}:\n{one}\n"));
            Kit::read(&(head.to_owned() + &assemblies.collect::<String>()))
        };
        assert_eq!(kit(2_000).unwrap().assemblies().len(), 2_000);
        let problem = kit(2_001).unwrap_err().to_string();
        assert!(
            problem.contains("at most 2000 assemblies; this one has 2001."),
            "{problem}"
        );
    }

    #[test]
    fn a_revision_is_the_hash_of_the_text() {
        let revision = |text: &str| Kit::read(text).unwrap().revision().clone();
        assert_eq!(revision(DEMO), revision(DEMO));
        assert_ne!(revision(DEMO), revision(&format!("{DEMO}\n# more\n")));
    }

    #[test]
    fn what_is_wrong_is_said_with_its_place() {
        for (from, to, said) in [
            (
                "shaft_power: 16 W",
                "shaft_power: 16 A",
                "10:18: \"16 A\" is not a power",
            ),
            (
                "shaft_power: 16 W",
                "shaft_power: 0 W",
                "10:18: \"0 W\" must be above zero.",
            ),
            (
                "volts: 108 V to 253 V",
                "volts: 253 V to 108 V",
                "11:12: \"253 V to 108 V\" is not",
            ),
            (
                "motor: ec",
                "motor: dc",
                "9:12: \"dc\" must be one of shaded_pole, psc, ec, three_phase.",
            ),
            (
                "on_truck: 3",
                "in_truck: 3",
                "8:5: \"in_truck\" is an unknown key here; did you mean \"on_truck\"?",
            ),
            (
                "motor: ec",
                "motor: ec\n    motor: ec",
                "10:5: \"motor\" is a duplicate key",
            ),
            (
                "leaves_box_at: '2'",
                "leaves_box_at: '9'",
                "has no setting \"9\"; it has 1, 2, 3.",
            ),
            ("protection: IP54", "protection: IP94", "is not an IP code"),
            (
                "horizontal: [side]",
                "horizontal: [top]",
                "no drain opening \"top\"",
            ),
            ("390 cfm at 0.00", "330 cfm at 0.00", "air flow rising"),
            (
                "390 cfm at 0.00 in wg",
                "390 cfm",
                "is not a point of a curve",
            ),
            ("setting: '2'", "setting: '1'", "is there twice"),
            (
                "speed: 1300 rpm",
                "speed: 900 rpm",
                "from slowest to fastest",
            ),
            (
                "on_truck: 3",
                "on_truck: three",
                "8:15: A whole number is expected here.",
            ),
            ("    motor: ec\n", "", "The key \"motor\" is missing here."),
            ("groups: [A1]", "groups: [R1]", "must be one of A1, A2L"),
        ] {
            let problem = problem(from, to);
            assert!(problem.contains(said), "{from} → {to}: {problem}");
            assert!(problem.ends_with(['.', '?']), "{problem}");
        }
    }

    #[test]
    fn a_rotation_is_the_same_from_either_end() {
        let from = |spin, seen_from| Rotation { spin, seen_from };
        assert_eq!(
            from(Spin::Clockwise, End::Lead),
            from(Spin::Counterclockwise, End::Shaft)
        );
        assert_ne!(
            from(Spin::Clockwise, End::Lead),
            from(Spin::Clockwise, End::Shaft)
        );
    }
}
