//! Takes one order through all stages: read, plan, documents, typeset, proof.
//!
//! Holds what orders share (templates, fonts, words, laboratory files) and
//! decides nothing itself.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

use chrono::NaiveDate;

use crate::document::{self, Kit, PageCounts};
use crate::fault::{Fault, Source, suggest};
use crate::import::{self, Row};
use crate::input;
use crate::lab::{LOGO_MAX_BYTES, Lab, read_lab};
use crate::medicine::Medicines;
use crate::order::{Order, read_order};
use crate::plan::{self, Plan};
use crate::proof::{FileKind, prove};
use crate::protocol::{self, Protocol, read_protocol};
use crate::stock::{self, Stock};
use crate::typeset::{About, Finished, Press, Template, typeset};
use crate::words::{Words, languages};

/// What every order of a run shares.
pub struct Workshop {
    /// The laboratory's file that was asked for, for every order.
    lab_file: Option<PathBuf>,
    /// A protocol of the user's own.
    protocol: Option<Rc<Protocol>>,
    today: NaiveDate,
    stock: Option<Stock>,
    press: Option<Press>,
    labs: HashMap<PathBuf, Rc<LabFiles>>,
    protocols: HashMap<String, Rc<Protocol>>,
    words: HashMap<String, Rc<Words>>,
}

/// A laboratory file with its logo.
pub struct LabFiles {
    pub lab: Lab,
    pub logo: Option<Vec<u8>>,
}

/// An order that has been read and planned.
pub struct Planned {
    pub order: Order,
    pub plan: Plan,
    pub protocol: Rc<Protocol>,
    pub lab: Rc<LabFiles>,
}

impl Planned {
    fn kit<'a>(&'a self, stock: &'a Stock, words: &'a Words) -> Kit<'a> {
        Kit {
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

/// The finished documents of one order.
pub struct Made {
    pub paper: Finished,
    pub labels: Finished,
    pub packing: Finished,
    pub stock: Stock,
    pub counts: PageCounts,
}

impl Made {
    pub fn file(&self, kind: FileKind) -> &Finished {
        match kind {
            FileKind::Paper => &self.paper,
            FileKind::Labels => &self.labels,
            FileKind::Packing => &self.packing,
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
                Some(Rc::new(read_protocol(&source)?))
            }
            None => None,
        };
        Ok(Self {
            lab_file,
            protocol,
            today,
            stock: None,
            press: None,
            labs: HashMap::new(),
            protocols: HashMap::new(),
            words: HashMap::new(),
        })
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
        self.press = Some(Press::new(more)?);
        self.stock = stock.map(find_stock).transpose()?;
        Ok(self)
    }

    /// Reads and plans one order.
    ///
    /// # Errors
    ///
    /// Every fault of the order, of its laboratory's file or of its protocol.
    pub fn plan(
        &mut self,
        source: &Arc<Source>,
        path: &Path,
    ) -> Result<Planned, Vec<Fault>> {
        let lab = self.lab(path)?;
        let order =
            read_order(source, &lab.lab, Medicines::builtin(), &languages(), self.today)?;
        let protocol = self.protocol(&order)?;
        let plan = plan::plan(&order, &protocol, &lab.lab.mail);
        Ok(Planned { order, plan, protocol, lab })
    }

    /// Reads the orders of an export by the columns that its laboratory's file
    /// names.
    ///
    /// # Errors
    ///
    /// Faults of the file as a whole, or of the laboratory's file; those of a row
    /// are in the row.
    pub fn rows(&mut self, export: &Path) -> Result<Vec<Row>, Vec<Fault>> {
        let lab = self.lab(export)?;
        let bytes =
            input::read_bytes(export, import::MAX_BYTES).map_err(|fault| vec![fault])?;
        import::read(export, &bytes, &lab.lab.columns)
    }

    fn lab(&mut self, order: &Path) -> Result<Rc<LabFiles>, Vec<Fault>> {
        let path = self.lab_file.clone().unwrap_or_else(|| {
            order
                .parent()
                .map_or_else(PathBuf::new, Path::to_path_buf)
                .join(input::LAB_FILE)
        });
        if let Some(known) = self.labs.get(&path) {
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
            .map(|name| input::read_bytes(&path.with_file_name(name), LOGO_MAX_BYTES))
            .transpose()
            .map_err(|fault| vec![fault])?;
        let files = Rc::new(LabFiles { lab, logo });
        self.labs.insert(path, files.clone());
        Ok(files)
    }

    fn protocol(&mut self, order: &Order) -> Result<Rc<Protocol>, Vec<Fault>> {
        let name = &order.protocol.value;
        if let Some(own) = &self.protocol
            && own.name == *name
        {
            return Ok(own.clone());
        }
        if let Some(known) = self.protocols.get(name) {
            return Ok(known.clone());
        }
        let Some(source) = protocol::builtin(name) else {
            let mut known = protocol::builtin_names();
            known.extend(self.protocol.iter().map(|own| own.name.as_str()));
            return Err(vec![order.protocol.fault(
                &order.source,
                format!("there is no protocol `{name}`"),
                suggest(name, &known),
            )]);
        };
        let protocol = Rc::new(read_protocol(&source)?);
        self.protocols.insert(name.clone(), protocol.clone());
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
    fn stock(&self, planned: &Planned) -> Result<Stock, Vec<Fault>> {
        let stock = if let Some(stock) = &self.stock {
            stock.clone()
        } else if let Some(name) = &planned.order.stock {
            stock::builtin(&name.value).ok_or_else(|| {
                vec![name.fault(
                    &planned.order.source,
                    format!("there is no label stock `{}`", name.value),
                    suggest(&name.value, &stock::builtin_names()),
                )]
            })?
        } else if let Some(name) = planned
            .lab
            .lab
            .stock
            .as_ref()
            .filter(|_| planned.order.paper == planned.lab.lab.paper)
        {
            find_stock(name)?
        } else {
            find_stock(stock::default_for(planned.order.paper))?
        };
        stock.check_size().map_err(|fault| vec![fault])?;
        Ok(stock)
    }

    /// Makes, and does not yet prove, the documents of one planned order.
    ///
    /// # Errors
    ///
    /// Every hold that nobody has cleared; faults of the stock, of the words, and
    /// of texts that do not fit.
    pub fn make(&mut self, planned: &Planned) -> Result<Made, Vec<Fault>> {
        let holds = planned.plan.hold_faults();
        if !holds.is_empty() {
            return Err(holds);
        }
        let stock = self.stock(planned)?;
        let words = self.words(&planned.order.language)?;
        let packers = self.words(&planned.lab.lab.language)?;
        let Some(press) = &self.press else {
            return Err(vec![Fault::new("no press was set up", "call with_press first")]);
        };
        let missing = missing_glyphs(press, planned);
        if !missing.is_empty() {
            return Err(missing);
        }
        let kit = planned.kit(&stock, &words);
        let paper_data = document::paper_documents(&kit)?;
        let label_data = document::label_documents(&kit)?;
        let about = |kind: FileKind, title: &str| About {
            identity: format!(
                "{}/{}",
                planned.order.number,
                kind.name().trim_end_matches(".pdf")
            ),
            title: format!("{title} – {}", planned.order.number),
            language: words.language,
            sides: kind.sides(),
            order: Some(&planned.order.source.text),
            logo: planned.lab.logo.as_deref(),
        };
        let paper = typeset(
            press,
            Template::Paper,
            &paper_data,
            &about(FileKind::Paper, &paper_data.page.title),
        )?;
        let label_about = about(FileKind::Labels, &label_data.title);
        let labels = typeset(press, Template::Labels, &label_data, &label_about)
            .map_err(|faults| name_a_stock(press, &kit, &label_about, faults))?;
        let counts = PageCounts {
            sheet: paper.pages_between("sheet", Some("fluids")),
            fluids: paper.pages_between("fluids", Some("card")),
            card: paper.pages_between("card", None),
        };
        let slip_data = document::packing_slip(&kit, &packers, counts)?;
        let packing = typeset(
            press,
            Template::PackingSlip,
            &slip_data,
            &about(FileKind::Packing, &slip_data.title),
        )?;
        Ok(Made { paper, labels, packing, stock, counts })
    }

    /// Compares one finished PDF of an order with its plan.
    ///
    /// # Errors
    ///
    /// A fault for every difference; `name` is the file's name in them.
    pub fn prove(
        &mut self,
        planned: &Planned,
        made: &Made,
        kind: FileKind,
        bytes: &[u8],
        name: &str,
    ) -> Result<(), Vec<Fault>> {
        let words = self.words(&planned.order.language)?;
        let packers = self.words(&planned.lab.lab.language)?;
        let kit = planned.kit(&made.stock, &words);
        prove(bytes, kind, &kit, &packers, made.counts).map_err(|differences| {
            differences.iter().map(|difference| difference.fault(name)).collect()
        })
    }
}

/// Adds to `faults`, which say that a label's content does not fit, the
/// smallest stock built in on which it does.
fn name_a_stock(
    press: &Press,
    kit: &Kit,
    about: &About,
    mut faults: Vec<Fault>,
) -> Vec<Fault> {
    // The labels of a kit fail alike, so the first speaks for all.
    faults.truncate(1);
    let mut stocks: Vec<Stock> =
        stock::builtin_names().into_iter().filter_map(stock::builtin).collect();
    stocks.retain(|stock| stock.medium == kit.stock.medium);
    stocks.sort_by_key(|stock| stock.label_width.um() * stock.label_height.um());
    let fits = |stock: &&Stock| {
        let kit = Kit { stock, ..*kit };
        document::label_documents(&kit)
            .and_then(|data| typeset(press, Template::Labels, &data, about))
            .is_ok()
    };
    if let (Some(fault), Some(stock)) = (faults.first_mut(), stocks.iter().find(fits)) {
        fault.help = format!(
            "the smallest stock that fits is {}: use --stock {0}, or stock = \"{0}\" in \
             the order",
            stock.name
        );
    }
    faults
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
        format!("there is no label stock `{name}`"),
        format!(
            "{}, or a file that ends in .toml",
            suggest(name, &stock::builtin_names())
        ),
    )])
}

/// A fault for each text of the order or the laboratory that holds a character
/// no font has.
fn missing_glyphs(press: &Press, planned: &Planned) -> Vec<Fault> {
    let mut faults = Vec::new();
    let (order, lab) = (&planned.order, &planned.lab.lab);
    let mut check = |source: &Arc<Source>, field: &str, text: &str| {
        // Names are printed in capitals, too, which may be other characters.
        let both = format!("{text}{}", text.to_uppercase());
        let Some(missing) = press.missing_glyph(&both) else { return };
        let start = source.text.find(text).unwrap_or(0);
        let span = start..start + text.len();
        faults.push(
            Fault::new(
                format!(
                    "no font has the character `{missing}` (U+{:04X}) of {field}",
                    u32::from(missing)
                ),
                "name a folder of fonts that have it with --fonts, or write the text in \
                 Latin letters",
            )
            .at(source, span, field),
        );
    };
    let patient = &order.patient;
    check(&order.source, "patient.family", &patient.family);
    check(&order.source, "patient.given", &patient.given);
    if let Some(provider) = &order.provider {
        check(&order.source, "provider.name", &provider.name);
        check(&order.source, "provider.phone", &provider.phone);
    }
    for dose in &order.doses {
        check(&order.source, "dose.medicine", &dose.medicine);
        check(&order.source, "dose.note", dose.note.as_deref().unwrap_or_default());
    }
    for clearance in &order.cleared {
        check(&order.source, "cleared.by", &clearance.by);
    }
    for (field, text) in
        [("name", &lab.name), ("phone", &lab.phone), ("hours", &lab.hours)]
    {
        check(&lab.source, field, text);
    }
    for line in &lab.address {
        check(&lab.source, "address", line);
    }
    for texts in lab.words.values() {
        for text in [&texts.hours, &texts.mailing, &texts.bags].into_iter().flatten() {
            check(&lab.source, "words", text);
        }
    }
    if let Some(approval) = &lab.approval {
        check(&lab.source, "approved.by", &approval.by);
    }
    faults
}
