//! Labels for evaporators: which ones, what their square codes open, and the short code on them.

use serde::{Deserialize, Serialize};

use super::Desk;
use super::actor::{Actor, LETTERS};
use super::error::DeskError;
use super::id::{CrewId, EvaporatorId};
use super::screen::EvaporatorLabel;
use super::tables::{Row, put};
use crate::report::labels::{Label, spelled};
use crate::report::pdf::{self, NoPdf, Paper};
use crate::store::{Batch, Table};

/// So many labels are printed at once: 50 sheets.
pub const LABELS_MAX: usize = 500;

/// So many letters are in a short code.
const CODE_LETTERS: usize = 5;

/// The name of the chat bot, as the platform told it last.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct BotRow {
    name: String,
}

impl Row for BotRow {
    const TABLE: Table = Table::named("bot");
}

const BOT: &[u8] = b"name";

/// Which evaporators get labels.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Which {
    /// All of the crew.
    All,
    /// Those at a site, as it is called.
    Site(String),
    /// One.
    One(EvaporatorId),
    /// Those whose line has all of these words.
    Words(String),
}

/// What a square code opens.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "snake_case")]
pub enum Opens {
    /// The evaporator's page.
    Page,
    /// The evaporator in the chat.
    Chat,
}

/// Labels that are wanted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LabelsWanted {
    /// Of which evaporators.
    pub which: Which,
    /// What their codes open; the page if nothing is said, or else the chat.
    pub opens: Option<Opens>,
    /// On which paper.
    pub paper: Paper,
    /// The address of the page; the server's own where none is said.
    pub public_url: Option<String>,
}

/// Where a square code leads.
enum Lead {
    Page(String),
    Chat(String),
}

impl Lead {
    fn to(&self, id: EvaporatorId) -> String {
        match self {
            Lead::Page(url) => format!("{}/evaporator/{id}", url.trim_end_matches('/')),
            // What follows `start=` may have 64 letters, figures, underscores and dashes.
            Lead::Chat(bot) => format!("https://t.me/{bot}?start={START}{}", id.0.simple()),
        }
    }

    fn sentence(&self) -> String {
        match self {
            Lead::Page(url) => format!("The codes open the evaporator’s page at {url}."),
            Lead::Chat(bot) => format!("The codes open the evaporator in the chat with @{bot}."),
        }
    }
}

/// What a start parameter of the chat begins with that names an evaporator.
const START: &str = "e-";

/// The short code of an evaporator: five letters and figures out of the chance in its number.
pub fn short_code(id: EvaporatorId) -> String {
    let chance = id.0.as_u128();
    let letter = |at: usize| LETTERS[((chance >> (5 * at)) & 31) as usize] as char;
    (0..CODE_LETTERS).rev().map(letter).collect()
}

/// A short code as somebody typed or heard it; none if it cannot be one.
pub(super) fn code_typed(text: &str) -> Option<String> {
    let code = super::actor::Code::typed(text);
    let code = code.reveal();
    (code.len() == CODE_LETTERS).then(|| code.to_owned())
}

impl Desk {
    /// Labels as a PDF.
    ///
    /// # Errors
    /// When the actor is no supervisor, there are none or too many to print, the server has
    /// neither an address nor a chat bot for the codes, or this build makes no PDF.
    pub async fn labels(&self, actor: &Actor, wanted: LabelsWanted) -> Result<Vec<u8>, DeskError> {
        self.must_be_supervisor(actor, "print labels").await?;
        self.labels_of(actor.crew, wanted).await
    }

    /// Labels as a PDF, for the operator. Without a crew, of the only one there is.
    ///
    /// # Errors
    /// As [`Desk::labels`], and when there are several crews and none is named.
    pub async fn labels_as_operator(
        &self,
        crew: Option<CrewId>,
        wanted: LabelsWanted,
    ) -> Result<Vec<u8>, DeskError> {
        let crews = self.crews().await?;
        let crew = match (crew, crews.as_slice()) {
            (Some(crew), all) if all.contains(&crew) => crew,
            (None, [only]) => *only,
            (None, several) if several.len() > 1 => {
                let all: Vec<String> = several.iter().map(CrewId::to_string).collect();
                return Err(DeskError::NotUnderstood(format!(
                    "There are several crews. Name one with --crew: {}",
                    all.join(", ")
                )));
            }
            _ => return Err(DeskError::NotFound("crew")),
        };
        self.labels_of(crew, wanted).await
    }

    async fn labels_of(&self, crew: CrewId, wanted: LabelsWanted) -> Result<Vec<u8>, DeskError> {
        if !pdf::IS_BUILT {
            return Err(DeskError::from(NoPdf::NotBuilt));
        }
        let of = self.which(crew, &wanted.which).await?;
        let lead = self.lead(&wanted).await?;
        let labels: Vec<Label> = of.iter().map(|one| label(one, &lead)).collect();
        let (on, opens) = ((wanted.paper, self.now()), lead.sentence());
        let made = tokio::task::spawn_blocking(move || pdf::labels(&labels, &opens, on));
        let made = made
            .await
            .map_err(|error| DeskError::Fault(format!("Making labels broke off: {error}")))?;
        made.map_err(DeskError::from)
    }

    async fn which(&self, crew: CrewId, which: &Which) -> Result<Vec<EvaporatorLabel>, DeskError> {
        if let Which::One(id) = which {
            self.evaporator_of(crew, *id).await?;
            return Ok(vec![self.evaporator_label(*id).await?]);
        }
        let words = match which {
            Which::Words(words) => words.as_str(),
            _ => "",
        };
        let mut found = self.evaporators_with(crew, words).await?;
        if let Which::Site(site) = which {
            found.retain(|label| label.site.to_lowercase() == site.to_lowercase());
        }
        match found.len() {
            0 => Err(DeskError::NotUnderstood(
                "No evaporator of your crew fits that, so there is no label to print.".to_owned(),
            )),
            many if many > LABELS_MAX => Err(DeskError::NotUnderstood(format!(
                "That is {many} labels, and {LABELS_MAX} are printed at once. Choose a site."
            ))),
            _ => Ok(found),
        }
    }

    async fn lead(&self, wanted: &LabelsWanted) -> Result<Lead, DeskError> {
        let own = self.rules().public_url.clone();
        let page = wanted.public_url.clone().or(own).map(Lead::Page);
        let chat = self.bot_name().await?.map(Lead::Chat);
        let lead = match wanted.opens {
            Some(Opens::Page) => page,
            Some(Opens::Chat) => chat,
            None => page.or(chat),
        };
        lead.ok_or_else(|| {
            let sentence = match wanted.opens {
                Some(Opens::Chat) => {
                    "The codes of labels cannot open a chat: this server has had no chat bot yet."
                }
                _ => {
                    "The codes of labels lead nowhere yet: start the server with --public-url, or \
                     with a chat bot."
                }
            };
            DeskError::NotUnderstood(sentence.to_owned())
        })
    }

    /// What the codes of labels can open.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn labels_can_open(&self) -> Result<Vec<Opens>, DeskError> {
        let page = self.rules().public_url.is_some().then_some(Opens::Page);
        let chat = self.bot_name().await?.map(|_| Opens::Chat);
        Ok(page.into_iter().chain(chat).collect())
    }

    /// Notes what the chat bot is called.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn note_bot_name(&self, name: &str) -> Result<(), DeskError> {
        if self.bot_name().await?.as_deref() == Some(name) {
            return Ok(());
        }
        let mut batch = Batch::new(self.now());
        let name = name.to_owned();
        batch.index.push(put(BOT, &BotRow { name })?);
        self.keep(batch).await.map(drop)
    }

    async fn bot_name(&self) -> Result<Option<String>, DeskError> {
        Ok(self.row::<BotRow>(BOT).await?.map(|row| row.name))
    }
}

fn label(of: &EvaporatorLabel, lead: &Lead) -> Label {
    let all = [&of.tag, &of.site, &of.hangs];
    let mut said = all.into_iter().filter(|text| !text.is_empty());
    let code = short_code(of.id);
    Label {
        head: said.next().cloned().unwrap_or_default(),
        lines: said.cloned().collect(),
        spelled: spelled(&code),
        code,
        link: lead.to(of.id),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use uuid::Uuid;

    #[test]
    fn a_start_parameter_fits_the_platform() {
        let id = EvaporatorId(Uuid::from_u128(0x0190_a6f2_7d3c_7c44_8000_0000_0000_0007));
        let link = Lead::Chat("bench_bot".to_owned()).to(id);
        let parameter = link.split("start=").nth(1).unwrap();
        assert!(parameter.len() <= 64);
        let fits = |sign: char| sign.is_ascii_alphanumeric() || sign == '_' || sign == '-';
        assert!(parameter.chars().all(fits), "{parameter}");
    }

    #[test]
    fn a_short_code_is_found_however_it_is_typed() {
        let id = EvaporatorId(Uuid::from_u128(0b00001_00000_10010_11111_01010));
        assert_eq!(short_code(id), "10JZA");
        for typed in ["10JZA", "1ojza", "l0j-za", " 10 jza"] {
            assert_eq!(code_typed(typed), Some(short_code(id)), "{typed}");
        }
        assert_eq!(code_typed("EV-3"), None);
    }
}
