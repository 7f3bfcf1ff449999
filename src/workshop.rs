//! What orders share: laboratory files, protocols, words, stock, and the press.
//!
//! Takes the text of an order, gives an order that is read and planned. Each
//! thread of a run has a workshop of its own.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

use chrono::NaiveDate;

use crate::days;
use crate::document::{Edition, Kit};
use crate::fault::{Fault, Source, suggest, visible};
use crate::fields::span_of;
use crate::import::{self, Row};
use crate::input;
use crate::lab::{LOGO_MAX_BYTES, Lab, check_logo, read_lab};
use crate::ledger::digest;
use crate::medicine::Medicines;
use crate::order::{self, Names, Order, read_order};
use crate::plan::{self, Plan};
use crate::proof::{Faces, Mode, Proving};
use crate::protocol::{self, Protocol, read_protocol};
use crate::stock::{self, Stock};
use crate::typeset::Press;
use crate::words::{Words, languages};

/// What every order of a run shares.
pub struct Workshop {
    pub(crate) setup: Setup,
    words: HashMap<String, Rc<Words>>,
}

/// What was asked for on the command line, and what was read for it; each thread's
/// workshop has the same, so a file that changes in between changes nothing.
#[derive(Clone)]
pub struct Setup {
    /// The laboratory's file that was asked for, for every order.
    lab_file: Option<PathBuf>,
    /// A protocol of the user's own.
    protocol: Option<Arc<Protocol>>,
    /// Whether any of the orders that were named asks for it.
    protocol_is_named: bool,
    today: NaiveDate,
    /// The day after which a first suitable day is looked for.
    search_from: NaiveDate,
    stock: Option<Stock>,
    pub(crate) press: Option<Press>,
    /// How thoroughly PDFs are read back.
    pub(crate) proof: Proving,
    /// Of the files of fonts that were added.
    fonts_digest: String,
    labs: HashMap<PathBuf, Arc<LabFiles>>,
    protocols: HashMap<String, Arc<Protocol>>,
}

impl Setup {
    /// The day on which orders are read.
    pub fn today(&self) -> NaiveDate {
        self.today
    }
}

/// A laboratory file with its logo.
pub struct LabFiles {
    pub lab: Lab,
    pub logo: Option<Vec<u8>>,
}

/// One order as it was given: a file, or a row of an export.
#[derive(Debug, Clone)]
pub struct Item {
    pub row: Row,
    /// The file's path, beside which its laboratory's file is.
    pub path: PathBuf,
}

/// A file, or a folder, of whose orders none can be read.
#[derive(Debug)]
pub struct Unread {
    pub path: PathBuf,
    pub faults: Vec<Fault>,
}

/// An order that has been read and planned.
pub struct Planned {
    pub order: Order,
    pub plan: Plan,
    pub protocol: Arc<Protocol>,
    pub lab: Arc<LabFiles>,
    pub edition: Edition,
    /// The day of card 1 was chosen just now.
    pub day_chosen: bool,
}

impl Planned {
    /// Everything its documents are made from.
    pub fn kit<'a>(&'a self, stock: &'a Stock, words: &'a Words) -> Kit<'a> {
        Kit {
            edition: self.edition,
            order: &self.order,
            lab: &self.lab.lab,
            protocol: &self.protocol,
            plan: &self.plan,
            stock,
            words,
            medicines: Medicines::builtin(),
        }
    }
}

impl Workshop {
    /// Sets up a run.
    ///
    /// # Errors
    ///
    /// Every fault of a protocol file that was asked for.
    pub fn new(
        lab_file: Option<PathBuf>,
        protocol_file: Option<&Path>,
        today: NaiveDate,
    ) -> Result<Self, Vec<Fault>> {
        let protocol = match protocol_file {
            Some(path) => {
                let source = input::read_text(path).map_err(|fault| vec![fault])?;
                Some(Arc::new(read_protocol(&source)?))
            }
            None => None,
        };
        Ok(Self::with(Setup {
            lab_file,
            protocol,
            protocol_is_named: false,
            today,
            search_from: today,
            stock: None,
            press: None,
            proof: Proving::default(),
            fonts_digest: String::new(),
            labs: HashMap::new(),
            protocols: HashMap::new(),
        }))
    }

    /// A workshop set up like another.
    pub fn with(setup: Setup) -> Self {
        Self { setup, words: HashMap::new() }
    }

    /// Of the files of fonts that were added.
    pub fn fonts_digest(&self) -> &str {
        &self.setup.fonts_digest
    }

    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// Makes templates, fonts and, where one was asked for, the stock ready.
    ///
    /// # Errors
    ///
    /// Faults of the fonts or of the stock.
    pub fn with_press(
        mut self,
        stock: Option<&str>,
        fonts: Option<&Path>,
    ) -> Result<Self, Vec<Fault>> {
        let more = fonts.map(input::read_fonts).transpose()?.unwrap_or_default();
        self.setup.fonts_digest = more
            .iter()
            .map(|(name, bytes)| format!("{name} {}\n", digest(bytes)))
            .collect();
        let press = Press::new(more)?;
        self.setup.proof.faces = Arc::new(Faces::new(press.font_files()));
        self.setup.press = Some(press);
        self.setup.stock = stock.map(find_stock).transpose()?;
        Ok(self)
    }

    /// Lays labels on `stock`, whatever the orders say.
    pub fn use_stock(&mut self, stock: Stock) {
        self.setup.stock = Some(stock);
    }

    /// Reads PDFs back as thoroughly as this.
    pub fn prove_by(&mut self, mode: Mode) {
        self.setup.proof.mode = mode;
    }

    /// Looks for first suitable days after `from` instead of after today, to come
    /// to the day that was chosen then.
    pub fn search_from(&mut self, from: NaiveDate) {
        self.setup.search_from = from;
    }

    /// Reads orders as on another day.
    pub fn set_today(&mut self, today: NaiveDate) {
        self.setup.today = today;
        self.setup.search_from = today;
    }

    /// Reads one order, which may ask for a day.
    ///
    /// # Errors
    ///
    /// Every fault of the order, of its laboratory's file or of its protocol.
    pub fn read(
        &mut self,
        source: &Arc<Source>,
        path: &Path,
    ) -> Result<(Order, Arc<Protocol>, Arc<LabFiles>), Vec<Fault>> {
        let lab = self.lab(path)?;
        let (medicines, today) = (Medicines::builtin(), self.setup.today);
        let mut names = Names::builtin();
        names.protocols.extend(self.setup.protocol.iter().map(|own| own.name.as_str()));
        let order = read_order(source, &lab.lab, medicines, &names, today)?;
        let protocol = self.protocol(&order)?;
        match untitled(&order, &protocol) {
            None => Ok((order, protocol, lab)),
            Some(fault) => Err(vec![fault]),
        }
    }

    /// Reads and plans one order. One that asks for the first suitable day gets
    /// it written into its text and is read again.
    ///
    /// # Errors
    ///
    /// Every fault of the order, of its laboratory's file or of its protocol; a
    /// fault if no day suits.
    pub fn plan(
        &mut self,
        source: &Arc<Source>,
        path: &Path,
    ) -> Result<Planned, Vec<Fault>> {
        let (order, protocol, lab) = self.read(source, path)?;
        if let Some(asked) = &order.first_suitable {
            let from = self.setup.search_from;
            let date = days::Search::new(&order, &protocol, &lab.lab, from)?
                .first(asked)
                .map_err(|fault| vec![fault])?;
            let dated = days::with_start(source, asked, date, from);
            return Ok(Planned { day_chosen: true, ..self.plan(&dated, path)? });
        }
        let mut plan = plan::plan(&order, &protocol, &lab.lab.mail);
        let senseless = plan.senseless();
        if !senseless.is_empty() {
            return Err(senseless);
        }
        plan.findings.extend(days::findings(&order, &plan, &lab.lab));
        plan.findings.sort_by_key(|finding| finding.level);
        let edition = Edition::default();
        Ok(Planned { order, plan, protocol, lab, edition, day_chosen: false })
    }

    /// Every order that `paths` name: order files, folders of them, and the rows
    /// of exports. Beside them each file that cannot be read.
    pub fn items(&mut self, paths: &[PathBuf]) -> (Vec<Item>, Vec<Unread>) {
        let (files, faults) = input::order_files(paths);
        let one = |(path, fault)| Unread { path, faults: vec![fault] };
        let mut unread: Vec<Unread> = faults.into_iter().map(one).collect();
        let mut items = Vec::new();
        for path in files {
            let rows = if import::is_export(&path) {
                self.rows(&path)
            } else {
                input::read_text(&path)
                    .map(|source| {
                        let number = order::number_in(&source.text);
                        vec![Row::new(source, number)]
                    })
                    .map_err(|fault| vec![fault])
            };
            match rows {
                Ok(rows) if rows.is_empty() => unread.push(Unread {
                    faults: vec![Fault::new(
                        format!("{} holds no order", path.display()),
                        "an export has a row for each order below its header",
                    )],
                    path,
                }),
                Ok(rows) => items
                    .extend(rows.into_iter().map(|row| Item { row, path: path.clone() })),
                Err(faults) => unread.push(Unread { path, faults }),
            }
        }
        refuse_twins(&mut items);
        if let Some(own) = &self.setup.protocol {
            let named = |item: &Item| order::text_in(&item.row.source.text, "protocol");
            self.setup.protocol_is_named =
                items.iter().any(|item| named(item).as_ref() == Some(&own.name));
        }
        (items, unread)
    }

    /// The orders of an export by the columns that its laboratory's file names.
    fn rows(&mut self, export: &Path) -> Result<Vec<Row>, Vec<Fault>> {
        let bytes =
            input::read_bytes(export, import::MAX_BYTES).map_err(|fault| vec![fault])?;
        let lab = self.lab(export)?;
        import::read(export, &bytes, &lab.lab.columns)
    }

    /// Reads and plans one order of those that were named.
    ///
    /// # Errors
    ///
    /// As [`Workshop::plan`], and those of its row.
    pub fn plan_item(&mut self, item: &Item) -> Result<Planned, Vec<Fault>> {
        item.row.and_then(|source| self.plan(source, &item.path))
    }

    /// The laboratory's file for the order in the file `order`.
    pub fn lab_path(&self, order: &Path) -> PathBuf {
        self.setup.lab_file.clone().unwrap_or_else(|| {
            order
                .parent()
                .map_or_else(PathBuf::new, Path::to_path_buf)
                .join(input::LAB_FILE)
        })
    }

    /// What that file says.
    ///
    /// # Errors
    ///
    /// Every fault of the file.
    pub fn lab(&mut self, order: &Path) -> Result<Arc<LabFiles>, Vec<Fault>> {
        let path = self.lab_path(order);
        if let Some(known) = self.setup.labs.get(&path) {
            return Ok(known.clone());
        }
        let source = input::read_text(&path).map_err(|mut fault| {
            fault.help = format!(
                "write the laboratory's name, address, phone and hours there, \
                 or name the file with --lab ({})",
                fault.help
            );
            vec![fault]
        })?;
        let lab = read_lab(&source, &languages())?;
        let logo = lab
            .logo
            .as_ref()
            .map(|name| read_logo(&path.with_file_name(name)))
            .transpose()?;
        let files = Arc::new(LabFiles { lab, logo });
        self.setup.labs.insert(path, files.clone());
        Ok(files)
    }

    fn protocol(&mut self, order: &Order) -> Result<Arc<Protocol>, Vec<Fault>> {
        let name = &order.protocol.value;
        if let Some(own) = &self.setup.protocol {
            if own.name == *name {
                return Ok(own.clone());
            }
            // The paper would be of another protocol than the one that was given, unless
            // that is for others of the orders.
            if self.setup.protocol_is_named {
                return self.builtin_protocol(order);
            }
            return Err(vec![order.protocol.fault(
                &order.source,
                format!(
                    "the order is for `{}`, and the protocol file that was given is `{}`",
                    visible(name),
                    visible(&own.name)
                ),
                format!(
                    "write protocol = \"{}\" in the order, or leave --protocol out for it",
                    visible(&own.name)
                ),
            )]);
        }
        self.builtin_protocol(order)
    }

    fn builtin_protocol(&mut self, order: &Order) -> Result<Arc<Protocol>, Vec<Fault>> {
        let name = &order.protocol.value;
        if let Some(known) = self.setup.protocols.get(name) {
            return Ok(known.clone());
        }
        let source = protocol::builtin(name).ok_or_else(|| {
            let names = protocol::builtin_names();
            vec![order::unknown(&order.protocol, &order.source, "protocol", &names)]
        })?;
        let protocol = Arc::new(read_protocol(&source)?);
        self.setup.protocols.insert(name.clone(), protocol.clone());
        Ok(protocol)
    }

    /// The words of a language, loaded once.
    ///
    /// # Errors
    ///
    /// Faults of the catalog.
    pub fn words(&mut self, language: &str) -> Result<Rc<Words>, Vec<Fault>> {
        if let Some(known) = self.words.get(language) {
            return Ok(known.clone());
        }
        let words = Rc::new(Words::load(language)?);
        self.words.insert(language.to_owned(), words.clone());
        Ok(words)
    }

    /// The stock for one order: the run's, the order's, the laboratory's, or
    /// the usual one for its paper.
    ///
    /// # Errors
    ///
    /// Faults of the stock that is named.
    pub fn stock_for(&self, planned: &Planned) -> Result<Stock, Vec<Fault>> {
        let stock = if let Some(stock) = &self.setup.stock {
            stock.clone()
        } else if let Some(name) = &planned.order.stock {
            find_stock(&name.value)?
        } else if let Some(name) = &planned.lab.lab.stock
            && planned.order.paper == planned.lab.lab.paper
        {
            find_stock(&name.value).map_err(|mut faults| {
                let source = &planned.lab.lab.source;
                for fault in faults.iter_mut().filter(|fault| fault.place.is_none()) {
                    let again = name.fault(source, &*fault.what, &*fault.help);
                    fault.place = again.place;
                }
                faults
            })?
        } else {
            find_stock(stock::default_for(planned.order.paper))?
        };
        stock.check_size().map_err(|fault| vec![fault])?;
        Ok(stock)
    }
}

/// Reads a logo that can be printed.
fn read_logo(path: &Path) -> Result<Vec<u8>, Vec<Fault>> {
    let bytes = input::read_bytes(path, LOGO_MAX_BYTES).map_err(|fault| vec![fault])?;
    check_logo(&path.display().to_string(), &bytes)?;
    Ok(bytes)
}

/// That a card of the protocol has no title in the order's language: a page in two
/// languages is read by nobody.
fn untitled(order: &Order, protocol: &Protocol) -> Option<Fault> {
    let language = order.language.as_str();
    let slot = protocol.slots.iter().find(|slot| !slot.title.contains_key(language))?;
    let (place, title) = match slot.title.iter().next() {
        Some((other, title)) => {
            (format!(", only in `{}`", visible(other)), title.as_str())
        }
        None => (String::new(), "Evening"),
    };
    let source = &order.source;
    Some(
        Fault::new(
            format!(
                "the protocol `{}` has no title in `{language}` for its slot `{}`{place}",
                protocol.name, slot.id
            ),
            format!(
                "add it to the title in the protocol's file: {language} = \"{}\" in that \
                 language",
                visible(title)
            ),
        )
        .at(source, span_of(&source.text, "language"), "language"),
    )
}

/// Makes orders that share a number wrong, all of them: nobody can tell which one
/// is meant. Those of one export are its reader's to refuse.
fn refuse_twins(items: &mut [Item]) {
    let mut seen: HashMap<String, Vec<usize>> = HashMap::new();
    for (index, item) in items.iter().enumerate() {
        if let Some(number) = &item.row.number {
            seen.entry(number.clone()).or_default().push(index);
        }
    }
    for (number, twins) in seen {
        // Of another file than the first, if there is one: all of the first's file
        // have it for their other, and the rest have the first.
        let first = twins[0];
        let elsewhere = twins.iter().find(|twin| items[**twin].path != items[first].path);
        let Some(&elsewhere) = elsewhere else { continue };
        for &index in &twins {
            let is_of_the_first = items[index].path == items[first].path;
            let other = if is_of_the_first { elsewhere } else { first };
            let other = items[other].row.source.name.clone();
            let row = &mut items[index].row;
            row.faults.push(
                Fault::new(
                    format!("the order number {number} stands in {other}, too"),
                    "each order has a number of its own; mend one of the two",
                )
                .at(
                    &row.source,
                    span_of(&row.source.text, "order"),
                    "order",
                ),
            );
        }
    }
}

/// The stock called `name`, or the one in the file of that name.
///
/// # Errors
///
/// A fault that lists the stocks, or the faults of the file.
pub fn find_stock(name: &str) -> Result<Stock, Vec<Fault>> {
    if let Some(stock) = stock::builtin(name) {
        return Ok(stock);
    }
    if name.ends_with(".toml") {
        let source = input::read_text(Path::new(name)).map_err(|fault| vec![fault])?;
        return stock::read_stock(&source);
    }
    Err(vec![Fault::new(
        format!("there is no label stock `{}`", visible(name)),
        format!(
            "{}, or a file that ends in .toml",
            suggest(name, &stock::builtin_names())
        ),
    )])
}
