//! The return checklist: what to look at before the kit goes to the post.

use serde::Serialize;

use super::{Entry, Kit};
use crate::words::say;

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Checklist {
    pub title: String,
    pub who: Vec<Entry>,
    pub intro: String,
    pub items: Vec<String>,
    pub cards_title: String,
    /// Each card's name and number.
    pub cards: Vec<Entry>,
    pub address_title: String,
    pub address: Vec<String>,
    pub keep: String,
}

pub(super) fn checklist(kit: &Kit) -> Checklist {
    let words = kit.words;
    let texts = kit.lab.words.get(words.language).cloned().unwrap_or_default();
    let intro = say!(words, "list-intro", when = kit.day_and_time(kit.plan.pack_at));
    let mut items = vec![
        say!(words, "list-dry"),
        say!(words, "list-date"),
        say!(words, "list-name"),
        say!(words, "list-bag"),
        texts.bags.unwrap_or_else(|| say!(words, "list-bag-desiccant")),
    ];
    if kit.plan.slots.iter().any(|slot| slot.card.is_none()) {
        items.push(say!(words, "list-spare"));
    }
    items.extend([say!(words, "list-card"), say!(words, "list-close")]);
    items.push(match kit.plan.post_on {
        Some(date) => say!(words, "list-post", date = kit.day(date)),
        None => say!(words, "list-post-undated"),
    });
    if kit.plan.has_finding("post-check") {
        items.push(say!(words, "list-check-post"));
    }
    items.extend(texts.mailing);
    let mut address = vec![kit.lab.name.clone()];
    address.extend(kit.lab.address.iter().cloned());
    Checklist {
        title: say!(words, "list-title"),
        who: kit.who(),
        intro,
        items,
        cards_title: say!(words, "list-cards"),
        cards: kit.cards(),
        address_title: say!(words, "list-address"),
        address,
        keep: say!(words, "list-keep"),
    }
}

impl Kit<'_> {
    /// Each card's name and specimen code.
    pub(super) fn cards(&self) -> Vec<Entry> {
        self.plan
            .slots
            .iter()
            .map(|slot| Entry {
                label: self.card_name(slot.card),
                value: slot.code.clone(),
            })
            .collect()
    }

    /// "Card 3", or the spare.
    pub(super) fn card_name(&self, card: Option<u8>) -> String {
        match card {
            Some(card) => say!(self.words, "card-number", card = card.to_string()),
            None => say!(self.words, "card-number-spare"),
        }
    }
}
