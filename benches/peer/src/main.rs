//! A plain bot, as many are written: a dispatcher with a dialogue in memory, and each answer
//! committed to SQLite (WAL, synchronous FULL) before the next question is sent.

use std::sync::{Arc, Mutex};

use rusqlite::Connection;
use teloxide::dispatching::dialogue::InMemStorage;
use teloxide::prelude::*;
use teloxide::types::{InlineKeyboardButton, InlineKeyboardMarkup};

/// Where somebody is.
#[derive(Clone, Default)]
enum At {
    #[default]
    Start,
    Step(u32),
}

type Place = Dialogue<At, InMemStorage<At>>;
type Db = Arc<Mutex<Connection>>;
type Done = Result<(), Box<dyn std::error::Error + Send + Sync>>;

#[tokio::main]
async fn main() {
    let file = std::env::args().nth(1).expect("the file of the database");
    let db = Connection::open(file).expect("a database");
    db.execute_batch(
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;
         CREATE TABLE answer (chat INTEGER, step INTEGER, answer TEXT, PRIMARY KEY (chat, step));",
    )
    .expect("a table");
    let handler = dptree::entry()
        .branch(
            Update::filter_message()
                .enter_dialogue::<Message, InMemStorage<At>, At>()
                .endpoint(started),
        )
        .branch(
            Update::filter_callback_query()
                .enter_dialogue::<CallbackQuery, InMemStorage<At>, At>()
                .endpoint(pressed),
        );
    Dispatcher::builder(Bot::from_env(), handler)
        .dependencies(dptree::deps![
            InMemStorage::<At>::new(),
            Arc::new(Mutex::new(db)) as Db
        ])
        .build()
        .dispatch()
        .await;
}

async fn started(bot: Bot, place: Place, message: Message) -> Done {
    place.update(At::Step(1)).await?;
    ask(&bot, message.chat.id, 1).await
}

async fn pressed(bot: Bot, place: Place, query: CallbackQuery, db: Db) -> Done {
    let step = match place.get_or_default().await? {
        At::Start => 1,
        At::Step(step) => step,
    };
    let chat = place.chat_id();
    let answer = query.data.clone().unwrap_or_default();
    let kept = move || {
        let db = db.lock().expect("the database");
        db.prepare_cached("INSERT INTO answer VALUES (?1, ?2, ?3)")?
            .execute((chat.0, step, answer))
    };
    tokio::task::spawn_blocking(kept).await??;
    place.update(At::Step(step + 1)).await?;
    bot.answer_callback_query(query.id).await?;
    ask(&bot, chat, step + 1).await
}

async fn ask(bot: &Bot, chat: ChatId, step: u32) -> Done {
    let button = |label: &str, key: &str| {
        vec![InlineKeyboardButton::callback(label, format!("{step}:{key}"))]
    };
    let rows = vec![
        button("It turns", "turns"),
        button("It stands still", "stands"),
        button("Stop", "stop"),
    ];
    let text = format!("Look at fan {step} from where you stand. Does it turn?");
    bot.send_message(chat, text)
        .reply_markup(InlineKeyboardMarkup::new(rows))
        .await?;
    Ok(())
}
