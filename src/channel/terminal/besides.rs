//! What the terminal says and asks besides the job on the screen: news, and the way of asking.

use super::{Terminal, TerminalError, number};
use crate::desk::Actor;
use crate::walk::context::Way;

impl Terminal<'_> {
    /// Says what came for the person since, once.
    pub(super) async fn news(&mut self, actor: &Actor) -> Result<(), TerminalError> {
        let items = self.desk.inbox(actor).await?;
        if items.is_empty() {
            return Ok(());
        }
        let mut text = String::new();
        for item in &items {
            text.push_str(&format!("\n*  {}", item.notice.sentence));
            for line in &item.notice.lines {
                text.push_str(&format!("\n   - {}", line.sentence));
            }
        }
        self.say(&text)?;
        let keys: Vec<String> = items.into_iter().map(|item| item.key).collect();
        self.desk.seen(actor, &keys).await?;
        Ok(())
    }

    /// Asks in which way the person wants to be asked; false when the input is over.
    pub(super) async fn way(&mut self, actor: &Actor) -> Result<bool, TerminalError> {
        let now = self.desk.way(actor).await?;
        let lines: Vec<String> = Way::ALL
            .iter()
            .zip(1..)
            .map(|(way, number)| {
                let mark = if *way == now { "*" } else { " " };
                format!(" {mark}{number}) {}.", way.words())
            })
            .collect();
        let question = format!(
            "How do you want to be asked? The star is how you are asked now.\n{}\nType the number, \
             or Enter to leave it so.",
            lines.join("\n")
        );
        let Some(answer) = self.ask(&question)? else {
            return Ok(false);
        };
        if answer.is_empty() {
            return Ok(true);
        }
        let Some(way) = number(&answer).and_then(|number| Way::ALL.get(number - 1)) else {
            self.say("There is no such number in the list.")?;
            return Ok(true);
        };
        match self.desk.set_way(actor, *way).await {
            Ok(()) => {}
            Err(error) if error.is_fault() => return Err(error.into()),
            Err(error) => self.say(&error.to_string())?,
        }
        Ok(true)
    }
}
