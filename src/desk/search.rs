//! Looking for jobs of the crew: words and filters together, the latest begun first.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::catalog::ITEMS_A_PAGE_MAX;
use super::error::DeskError;
use super::finds::{Find, words};
use super::id::{CrewId, EvaporatorId, JobId};
use super::lists::JOBS_A_PAGE;
use super::screen::{FlowChoice, JobLine, Named, Phase};
use super::tables::{PersonRow, id_at_end, latest_first, list, time_of};
use crate::flow::name::FlowName;
use crate::record::around::LookedAt;
use crate::record::hex::Hex;
use crate::record::person::PersonId;
use crate::store::{Common, IndexRow, List, StoreError, Table};

/// With more words than these that begin alike, one more letter is asked for.
const ALIKE_MAX: usize = 512;

/// So often keys are looked up for one page: an answer stays quick whatever is asked, and where
/// nothing fits for very long it says how far back it looked.
const LOOKS_MAX: usize = 4_096;

/// So many sites are offered to choose from; any other is typed.
pub const SITES_OFFERED_MAX: usize = 100;

/// A job's number is recognised from this many of its digits on.
const NUMBER_DIGITS_MIN: usize = 8;

/// What is looked for; everything that is given has to fit.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Words: of site, tag, place, flow, outcome, people's names by their beginnings; numbers as
    /// a whole; or a job's number.
    pub words: String,
    /// The site, as it is called.
    pub site: Option<String>,
    /// The evaporator.
    pub evaporator: Option<EvaporatorId>,
    /// In whose hands it ever was.
    pub person: Option<PersonId>,
    /// The flow.
    pub flow: Option<FlowName>,
    /// How far it is.
    pub phase: Option<Phase>,
    /// How it ended, in the words of the lists.
    pub ended: Option<String>,
    /// Begun on this day or later, by the clocks of the crew.
    pub from: Option<Date>,
    /// Begun on this day or earlier, by the clocks of the crew.
    pub to: Option<Date>,
}

/// Where a search goes on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SearchCursor(Vec<u8>);

impl SearchCursor {
    /// The time that was looked back to.
    pub fn time(&self) -> Option<Timestamp> {
        let bytes = self.0.first_chunk::<8>()?;
        // The latest come first, so all bits are turned.
        time_of(&bytes.map(|byte| !byte))
    }
}

impl fmt::Display for SearchCursor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl FromStr for SearchCursor {
    type Err = DeskError;

    fn from_str(text: &str) -> Result<SearchCursor, DeskError> {
        // A place, with or without the byte that makes it the next.
        let bytes = match text.len() {
            48 => Hex::<24>::read(text).map(|place| place.0.to_vec()),
            50 => Hex::<25>::read(text).map(|place| place.0.to_vec()),
            _ => None,
        };
        let bytes = bytes.ok_or(StoreError::ForeignCursor)?;
        Ok(SearchCursor(bytes))
    }
}

/// One page of what was found.
#[derive(Clone, Debug, PartialEq)]
pub struct JobsFound {
    /// The jobs, the latest begun first.
    pub jobs: Vec<JobLine>,
    /// Where to go on. A page with fewer than [`JOBS_A_PAGE`] jobs may have it too: then the
    /// search paused on its way back in time.
    pub next: Option<SearchCursor>,
}

/// What the filters can be set to.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchChoices {
    /// Sites by name; the first [`SITES_OFFERED_MAX`].
    pub sites: Vec<String>,
    /// Everybody who is or was of the crew, by name.
    pub people: Vec<Named>,
    /// The flows that the crew's jobs walked, by title.
    pub flows: Vec<FlowChoice>,
    /// How jobs ended, by label.
    pub ends: Vec<String>,
}

impl Desk {
    /// The crew's jobs that fit everything that is wanted. It is written down that the actor
    /// looked.
    ///
    /// # Errors
    /// When the crew has no such evaporator or person, or a word is the beginning of too many.
    pub async fn find_jobs(
        &self,
        actor: &Actor,
        wanted: &Wanted,
        after: Option<SearchCursor>,
    ) -> Result<JobsFound, DeskError> {
        self.find_some_jobs(actor, wanted, (after, JOBS_A_PAGE))
            .await
    }

    /// As [`Desk::find_jobs`], `limit` a page.
    ///
    /// # Errors
    /// As [`Desk::find_jobs`].
    pub async fn find_some_jobs(
        &self,
        actor: &Actor,
        wanted: &Wanted,
        (after, limit): (Option<SearchCursor>, usize),
    ) -> Result<JobsFound, DeskError> {
        self.present(actor).await?;
        let groups = self.groups(actor, wanted).await?;
        self.note_look(actor, LookedAt::Jobs).await?;
        let clocks = self.crew_clocks(actor.crew).await?;
        let start_of = |day: Date| {
            let start = clocks.to_timestamp(day.at(0, 0, 0, 0));
            start.unwrap_or(Timestamp::MAX)
        };
        let latest = wanted.to.map(|day| start_of(day.tomorrow().unwrap_or(day)));
        let from = match (after, latest) {
            (Some(SearchCursor(place)), _) => place,
            // What begins a moment before the next day stands first.
            (None, Some(end)) => latest_first(end - MOMENT).to_vec(),
            (None, None) => Vec::new(),
        };
        let earliest = wanted.from.map(start_of);
        let to = earliest.map(|start| [&latest_first(start)[..], &[u8::MAX; 16]].concat());
        let ask = Common {
            groups,
            from,
            to,
            limit: limit.clamp(1, ITEMS_A_PAGE_MAX),
            looks_max: LOOKS_MAX,
        };
        let found = self.store().common(ask).await?;
        let jobs = found.ends.iter().filter_map(|end| id_at_end(end));
        Ok(JobsFound {
            jobs: self.lines(jobs.collect()).await?,
            next: found.next.map(SearchCursor),
        })
    }

    /// What the filters can be set to. It is written down that the actor looked.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn search_choices(&self, actor: &Actor) -> Result<SearchChoices, DeskError> {
        self.present(actor).await?;
        self.note_look(actor, LookedAt::Jobs).await?;
        let crew = actor.crew;
        let sites = self
            .texts(list::CREW_SITES, crew, SITES_OFFERED_MAX)
            .await?;
        let mut sites: Vec<String> = sites.into_iter().map(|(_, site)| site).collect();
        let ends = self.texts(list::CREW_ENDS, crew, usize::MAX).await?;
        let mut ends: Vec<String> = ends.into_iter().map(|(_, label)| label).collect();
        let flows = self.walked_flows(crew).await?.into_iter();
        let mut flows: Vec<FlowChoice> = flows
            .map(|(flow, title)| FlowChoice { flow, title })
            .collect();
        let mut people = self.ever_of_crew(crew).await?;
        sites.sort();
        ends.sort();
        flows.sort_by(|a, b| a.title.cmp(&b.title));
        people.sort_by(|a, b| (&a.name, a.person).cmp(&(&b.name, b.person)));
        Ok(SearchChoices {
            sites,
            people,
            flows,
            ends,
        })
    }

    /// Refuses a person who never was of the crew.
    pub(super) async fn ever_here(&self, crew: CrewId, person: PersonId) -> Result<(), DeskError> {
        let row = self.row::<PersonRow>(person.0).await?;
        match row.is_some_and(|row| row.crew == crew) {
            true => Ok(()),
            false => Err(DeskError::NotFound("person")),
        }
    }

    /// The groups of lists that a job must be on.
    async fn groups(&self, actor: &Actor, wanted: &Wanted) -> Result<Vec<Vec<List>>, DeskError> {
        let crew = actor.crew;
        let mut finds = Vec::new();
        if let Some(evaporator) = wanted.evaporator {
            self.evaporator_of(crew, evaporator).await?;
            finds.push(Find::Evaporator(evaporator));
        }
        if let Some(person) = wanted.person {
            self.ever_here(crew, person).await?;
            finds.push(Find::Person(person));
        }
        finds.extend(wanted.site.as_deref().map(Find::Site));
        finds.extend(wanted.flow.as_ref().map(Find::Flow));
        finds.extend(wanted.phase.map(Find::Phase));
        finds.extend(wanted.ended.as_deref().map(Find::Ended));
        let lists = finds.into_iter().map(|find| vec![find.list(crew)]);
        let mut groups: Vec<Vec<List>> = lists.collect();
        groups.extend(self.word_groups(crew, &wanted.words).await?);
        if groups.is_empty() {
            groups.push(vec![Find::All.list(crew)]);
        }
        Ok(groups)
    }

    /// For each word the lists that it may mean.
    async fn word_groups(&self, crew: CrewId, text: &str) -> Result<Vec<Vec<List>>, DeskError> {
        let mut groups = Vec::new();
        let mut dictionary = None;
        for piece in text.split_whitespace() {
            let numbered = self.numbered(crew, piece).await?;
            if !numbered.is_empty() {
                groups.push(numbered);
                continue;
            }
            for word in words(piece) {
                if dictionary.is_none() {
                    dictionary = Some(self.dictionary(crew).await?);
                }
                let known = dictionary.iter().flatten();
                let known = known.filter(|(known, _)| begins(known, &word));
                let mut group: Vec<List> = known.map(|(_, list)| list.clone()).collect();
                group.extend(self.evaporator_word(crew, &word).await?);
                groups.push(group);
            }
        }
        Ok(groups)
    }

    /// The jobs whose numbers begin with this, if it can be a number.
    async fn numbered(&self, crew: CrewId, typed: &str) -> Result<Vec<List>, DeskError> {
        let digits: String = typed.chars().filter(|sign| *sign != '-').collect();
        let is_number = (NUMBER_DIGITS_MIN..=32).contains(&digits.len())
            && digits.bytes().all(|digit| digit.is_ascii_hexdigit());
        if !is_number {
            return Ok(Vec::new());
        }
        let digits = digits.to_lowercase();
        let pairs = digits.as_bytes().chunks_exact(2);
        let byte = |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
        let bytes: Vec<u8> = pairs.filter_map(byte).collect();
        let prefix = Find::numbers(crew, &bytes);
        let rows = self.alike(list::FOUND, prefix, typed).await?;
        let numbers = rows.iter().filter_map(|row| id_at_end(&row.key));
        let fits = |job: &Uuid| job.simple().to_string().starts_with(&digits);
        let jobs = numbers.filter(fits);
        Ok(jobs
            .map(|job| Find::Number(JobId(job)).list(crew))
            .collect())
    }

    /// The lists of the words of evaporators that begin so; a number is a word as a whole.
    async fn evaporator_word(&self, crew: CrewId, word: &str) -> Result<Vec<List>, DeskError> {
        if is_numeral(word) {
            return Ok(vec![Find::Word(word).list(crew)]);
        }
        let crew_bytes = crew.0.as_bytes();
        let prefix = [crew_bytes.as_slice(), word.as_bytes()].concat();
        let rows = self.alike(list::CREW_WORDS, prefix, word).await?;
        let words = rows.iter().map(|row| &row.key[crew_bytes.len()..]);
        let words = words.filter_map(|word| std::str::from_utf8(word).ok());
        Ok(words.map(|word| Find::Word(word).list(crew)).collect())
    }

    /// The rows whose keys begin alike, refused if they are too many.
    async fn alike(
        &self,
        table: Table,
        prefix: Vec<u8>,
        typed: &str,
    ) -> Result<Vec<IndexRow>, DeskError> {
        let page = self.store().scan(table, prefix, None, ALIKE_MAX).await?;
        if page.next.is_none() {
            return Ok(page.items);
        }
        Err(DeskError::NotUnderstood(format!(
            "More than {ALIKE_MAX} words begin with “{typed}”. Type one more letter of it."
        )))
    }

    /// The words of flows, outcomes and names, each with the list that it stands for.
    async fn dictionary(&self, crew: CrewId) -> Result<Vec<(String, List)>, DeskError> {
        let mut known = Vec::new();
        let mut add = |text: &str, list: List| {
            let words = words(text).into_iter();
            known.extend(words.map(|word| (word, list.clone())));
        };
        for (flow, title) in self.walked_flows(crew).await? {
            add(&title, Find::Flow(&flow).list(crew));
        }
        for (_, label) in self.texts(list::CREW_ENDS, crew, usize::MAX).await? {
            add(&label, Find::Ended(&label).list(crew));
        }
        for named in self.ever_of_crew(crew).await? {
            add(&named.name, Find::Person(named.person).list(crew));
        }
        Ok(known)
    }

    async fn walked_flows(&self, crew: CrewId) -> Result<BTreeMap<FlowName, String>, DeskError> {
        let rows = self.texts(list::CREW_FLOWS, crew, usize::MAX).await?;
        let flow = |(key, title): (Vec<u8>, String)| {
            let name = std::str::from_utf8(&key).ok()?;
            Some((FlowName::from(name), title))
        };
        Ok(rows.into_iter().filter_map(flow).collect())
    }

    /// Everybody who is or was of a crew and whose name is known.
    async fn ever_of_crew(&self, crew: CrewId) -> Result<Vec<Named>, DeskError> {
        let mut people = Vec::new();
        for id in self.listed(list::CREW_PEOPLE, crew.0.as_bytes()).await? {
            let person = PersonId(id);
            if let Some(name) = self.store().name(id).await? {
                people.push(Named { person, name });
            }
        }
        Ok(people)
    }

    /// The first texts of a crew's table, each with what its key has after the crew.
    async fn texts(
        &self,
        table: Table,
        crew: CrewId,
        limit: usize,
    ) -> Result<Vec<(Vec<u8>, String)>, DeskError> {
        let prefix = crew.0.as_bytes().to_vec();
        let length = prefix.len();
        let page = self.store().scan(table, prefix, None, limit).await?;
        let text = |row: IndexRow| Some((row.key[length..].to_vec(), String::from_utf8(row.value)));
        let texts = page.items.into_iter().filter_map(text);
        Ok(texts
            .filter_map(|(key, text)| Some((key, text.ok()?)))
            .collect())
    }
}

/// The shortest time that places tell apart.
const MOMENT: jiff::SignedDuration = jiff::SignedDuration::from_millis(1);

fn is_numeral(word: &str) -> bool {
    word.chars().all(char::is_numeric)
}

/// Whether a known word is meant by a typed one.
fn begins(known: &str, typed: &str) -> bool {
    match is_numeral(typed) {
        true => known == typed,
        false => known.starts_with(typed),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_survives_an_address_line_and_tells_its_time() {
        let at: Timestamp = "2031-05-04T08:00:00Z".parse().unwrap();
        let place = super::super::finds::place(at, JobId(Uuid::from_u128(7)));
        let cursor = SearchCursor([place.as_slice(), &[0]].concat());
        assert_eq!(cursor.to_string().parse::<SearchCursor>().unwrap(), cursor);
        assert_eq!(cursor.time(), Some(at));
        for text in ["", "00", "zz", "é"] {
            assert!(text.parse::<SearchCursor>().is_err(), "{text}");
        }
    }
}
