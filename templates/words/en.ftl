# English: every word that a patient or a packer reads on paper.
#
# One message for each thing said. All catalogs have the same messages with the
# same arguments; a test compares them. Times, dates and amounts come in ready
# made, so a message never does arithmetic.

### About this catalog

# "original" for the language the words were written in, "no" for a translation
# that no qualified translator has reviewed, otherwise who reviewed it and when.
catalog-review = original
language-name = English

### Times and dates

clock-12 =
    { $half ->
        [am] { $hour }:{ $minute } am
       *[pm] { $hour }:{ $minute } pm
    }
clock-24 = { $hour }:{ $minute }
clock-noon = 12 noon
clock-midnight = 12 midnight
date-day = { $weekday }, { $date }
date-label = { $day }-{ $month }-{ $year }
day-number = Day { $number }
day-number-before = The day before
range = { $from } to { $to }

### Amounts

amount-none = 0 mL
amount-cups =
    { $count ->
        [one] { $ml } mL ({ $cups } cup)
       *[other] { $ml } mL ({ $cups } cups)
    }
cup-defined = One cup here is a US measuring cup: 8 fluid ounces, about 237 mL.
weight = { $figure } { $unit }

### Every page

page-of = Page { $page } of { $pages }
foot-order = { $name } · Order { $order }
foot-zone = Times are for { $zone } (clock rules { $version }). Sheet { $sheet }.
foot-edition = { $mark }. { $more }
mark-revision = Revision { $number }
mark-reprint = Reprint { $number }
foot-undated = Sheet without dates. Sheet { $sheet }.
translation-unreviewed = (no translation)
label-name = Name
label-born = Born
label-order = Order
field-name = { $family }, { $given }

### Instruction sheet

sheet-title = Your collection times
sheet-start = Start on { $date }.
sheet-start-blank = Day 1 is: ______________________
sheet-revised = Your plan has changed. Use these pages. Throw the earlier pages away.
sheet-assumed = We did not have your own times for { $what }. We used common ones. If yours are not the same, call us before you start.
anchor-lunch = lunch
anchor-dinner = dinner
anchor-bedtime = bedtime
anchor-waking = waking up
list-and = { $first } and { $last }

first-heading = Do not start yet if:
first-limits = Someone told you how much to drink. You have kidney or heart disease, diabetes, diabetes insipidus, kidney stones or sickle cell disease. You take lithium, desmopressin or a water pill.
first-pregnant = You are pregnant, breast-feeding or under 18.
first-ill = You are ill, throwing up, have a fever or loose stools, or it is very hot.
first-call = Call { $phone } first.
first-cleared = { $by } looked at { $what } on { $date }.
first-cleared-rest = You may do this test if nothing else in the box is true for you. Keep to what your provider told you.
cleared-limits = your health and how much you may drink
cleared-breastfeeding = your health, breast-feeding and how much you may drink
cleared-pregnant = your pregnancy
cleared-age = your age
sheet-ask = Before you start, ask your provider about: { $medicines }.
sheet-ask-drinks = Before you start, ask your provider how much you may drink. Write it here: ______________________
sheet-clocks = The clocks change during this test. All times here are the times that your clock will show.
sheet-clocks-later = The clocks change on the next day, when you would make up a card. All times here are the times that your clock will show.

timeline-alt = A line of your times in order. { $stations }.
timeline-stop = drink nothing
timeline-stop-prescribed = drink as told
timeline-sleep = sleep
timeline-dinner = dinner
timeline-empty = Empty bladder
timeline-bed = Go to bed
timeline-card = Card { $card }

part-before = Before you sleep
part-night = While you sleep
part-after = After you wake up
part-pack = Pack and post
part-heading = { $title } – { $day }

step-caffeine = Stop caffeine now.
step-caffeine-more = No coffee, tea, cola, energy drinks or chocolate until after card { $card }.
step-caffeine-until = No coffee, tea, cola, energy drinks or chocolate until { $time }.
step-water = Drink water only, up to { $amount } until { $until }.
step-time-first = Your clock will show this time twice. Do this the first time.
step-time-second = Your clock will show this time twice. Do this the second time.
step-time-midnight = This is when { $day } begins.
step-empty = Empty your bladder in the toilet.
step-empty-more = Then drink nothing until card { $card } is done.
step-empty-more-prescribed = Then drink nothing until card { $card } is done, unless your provider told you to drink.
step-short = Card { $before } is also the time to empty your bladder. Drink nothing until card { $card } is done.
step-short-prescribed = Card { $before } is also the time to empty your bladder. Drink nothing until card { $card } is done, unless your provider told you to drink.
step-card = Card { $card }.
step-card-lunch = Do it just before you eat lunch.
step-card-dinner = Do it just before you eat dinner.
step-card-bedtime = Do it just before you go to sleep.
step-card-waking = Do it as soon as you wake up, before anything else.
step-card-within = Be done within { $minutes } minutes.
step-card-woke = Write down when you woke up.
step-card-later = Do it { $offset } after you really woke up.
step-card-general = Do it { $offset } after { $anchor }.
step-card-before = Do it { $offset } before { $anchor }.
offset-hours = { $count ->
    [one] { $count } hour
   *[other] { $count } hours
 }
offset-minutes = { $count ->
    [one] { $count } minute
   *[other] { $count } minutes
 }
step-write = After each card, write the date and time on it at once.
step-dinner = Eat dinner. Have one normal drink, not a lot.
step-dinner-alone = Eat dinner.
step-dinner-dry = Eat dinner with nothing to drink.
step-dinner-prescribed = Eat dinner. Drink only as your provider told you.
step-spare-time = If you get up
step-spare = Spare card.
step-spare-first = Do it the first time you get up to urinate, if you then sleep again.
step-spare-second = The second time, just use the toilet.
step-spare-up = Up for good? Do card { $card }, even if it is early.
step-night = Just use the toilet, if you then sleep again.
step-allowance = You may drink water, up to { $amount }, until card { $card } is done.
step-allowance-lookup = You may drink some water until card { $card } is done. Find your amount in the drinks table.
step-allowance-prescribed = Until card { $card } is done, drink water only as your provider told you.
step-allowance-ask = Until card { $card } is done, drink water only up to the amount that you wrote down above.
step-allowance-eat = You may eat.
step-allowance-help = You may eat. No caffeine yet.
step-dose-after = Now take your { $usual } { $medicine }, if you have not taken it yet.
calendar-dose = Then take your { $usual } { $medicine }, if you have not taken it yet.
step-dose-wait = Wait with your { $medicine } until card { $card } is done.
step-then = Then
step-done = You may drink as usual now.
step-done-prescribed = Drink as your provider told you.
step-pack = Check that every card is dry. Then pack the cards.
step-post = Post the kit today.
step-post-check = First ask if there is post today. It is the day before a holiday.
step-post-undated = Post the kit that day, or on the next day with post.
time-next-day = { $time }, { $day }
time-first = { $time } (1st)
time-second = { $time } (2nd)

how-heading = How to do a card
how-check = Check that the card has your name and birth date. If not, do not use it. Call us.
how-hands = Wash your hands with soap and water. Dry them.
how-catch = Urinate into the clean cup.
how-wet = Dip the paper end of the card until it is all wet. Let it drip off.
how-write = Write the date and time on the card.
how-dry = Hang the card up to dry. Keep it away from heat, sun, children and pets. Nothing may touch it.
how-rinse = Rinse the cup with water and let it dry. Wash your hands.

med-heading = Your medicines
med-none = No medicines are listed in your order. If you take any, call us before you start.
med-rule = Do not stop, skip, delay or change any medicine for this test unless { $provider } told you to.
med-rule-unnamed = Do not stop, skip, delay or change any medicine for this test unless the person who prescribed it told you to.
med-medicine = Medicine
med-usual = You take it at
med-as-usual = As usual
med-patch = Leave it on
med-after-card = After card { $card } ({ $time })
med-ask = Ask before you start: ________
med-prescribed = As prescribed
med-steroid = { $medicine } is a steroid. Never stop it suddenly.
med-note = { $medicine }. From your provider: { $note }
med-note-at = { $medicine }, { $times }. From your provider: { $note }
med-sip-noted = While you drink nothing: take your { $medicines } on time, or when the note above says, with a sip of water. Write that down.
med-sip = While you drink nothing: take your { $medicines } on time, with a sip of water. Write that down.
med-skin = Gel, cream or spray: wash your hands with soap before you touch a card. Keep it off the cards.
med-agreed = { $provider } agreed to the changed times above.
med-named = { $name } ({ $form })

form-tablet = tablet
form-capsule = capsule
form-liquid = liquid
form-under-tongue = under the tongue
form-gel = gel
form-cream = cream
form-spray = spray
form-drops = drops
form-inhaler = inhaler
form-suppository = suppository
form-patch = patch
form-injection = shot
form-pellet = pellet
form-implant = implant
form-ring = ring

wrong-heading = If something goes wrong
wrong-missed = You missed a card or did it late: do not guess a time. If the card is still dry, use it at the make-up time below. If it is wet, write the real time on it, keep it and call us.
wrong-waking = You did not do card { $card } within { $minutes } minutes after you woke: no card { $next } today. Take your medicines at their usual times. Is a dose late? Take it now. Two doses of one medicine? Call your provider.
wrong-waking-missed = You missed card { $card }: no card { $next } today. Take your medicines at their usual times. Is a dose late? Take it now. Two doses of one medicine? Call your provider.
wrong-dose-next = You did card { $before } but missed card { $card }: do not skip your { $medicines }. Call your provider.
wrong-dose = You missed card { $card }: do not skip your { $medicines }. Call your provider.
wrong-cannot = You cannot urinate: drink one glass of water and wait a few minutes.
wrong-drank = You drank when you should not: do the card and write down what you drank.
wrong-changed = Your day goes another way: look at the table “If your day changes”.
wrong-ill = You feel ill, dizzy or very thirsty: drink, stop the test and call your provider or us.
wrong-ill-prescribed = You feel ill, dizzy or very thirsty: stop the test and call your provider or us. Drink as your provider told you.

repeat-heading = Make up a missed card
repeat-card = Card
repeat-card-with = { $card } and { $next }
repeat-card-alone = { $card } only
repeat-day = Day
repeat-empty = Empty bladder
repeat-stop = Drink nothing from
repeat-collect = Do the card
repeat-none = —
repeat-dose = If you make up { $count ->
    [one] card
   *[other] cards
  } { $card }: take your { $usual } { $medicine } after that, about { $time }.
repeat-dose-ask = If you make up { $count ->
    [one] card
   *[other] cards
  } { $card }: ask before when to take your { $usual } { $medicine }.
repeat-once = Do two of these lines name the same dose on the same day? Take it once, after the later card.
repeat-once-ask = Do two of these lines name the same dose on the same day? If one says to ask, ask. If not, take it once, after the later card.
repeat-both = Do you make up both card { $before } and card { $card }? { $rule }
repeat-rules = Keep the same rules for drinks on a make-up day.
repeat-rules-caffeine = Keep the same rules for drinks and caffeine on a make-up day.
repeat-ask = If you make up a card, ask about that day, too (medicines with “Ask” above).
repeat-pack = If you make up a card, do not pack yet. Sleep once more. Pack when all cards are dry.

changes-heading = If your day changes
changes-both = Where it says card { $before }, that empties your bladder. Drink nothing until card { $card } is done.
changes-both-prescribed = Where it says card { $before }, that empties your bladder. Drink nothing until card { $card } is done, unless your provider told you to drink.
changes-dinner = Dinner at
changes-bedtime = Bed at
changes-empty = Empty at
changes-waking = Wake at
changes-card = Card { $card } at

care-heading = Take care
care-drink = If you are very thirsty, hot or unwell, drink. Your health comes first.
care-drink-prescribed = If you are very thirsty, hot or unwell, stop the test and call. Drink as your provider told you.
care-later = Do not drink extra later to catch up.
care-signs = Throwing up, fever, dizzy, confused, or very little urine? Stop the test and call. In an emergency call { $emergency }.
care-steroid = Throwing up, confused, very weak, or about to faint, and you take a steroid? Call { $emergency } at once.
care-cards = Never use a card with someone else's name. Never give a card to someone else.
care-not = This test is not for emergencies. Only your provider can tell you what the results mean.

call-heading = Questions
call-lab = { $lab }: { $phone }. { $hours }
call-provider = Your provider, { $provider }: { $phone }
call-language = Help in other languages is free. Just ask.

### Drinks table

fluids-title = What you may drink
fluids-intro = Water is best. These rules are only for the days of the test.
fluids-when = When
fluids-what = What you may drink
fluids-water-up-to = Water, up to { $amount } in all
fluids-nothing = Nothing
fluids-nothing-prescribed = Nothing, unless your provider told you to drink
fluids-with-dinner = One normal drink with dinner, not a lot
fluids-if-thirsty = A sip of water if you are thirsty
fluids-allowance = Water, up to { $amount } in all
fluids-allowance-lookup = Water, up to the amount in the table below
fluids-allowance-prescribed = Water, only as your provider told you
fluids-allowance-ask = Water, only up to the amount that your provider told you
fluids-normal = As usual
fluids-normal-prescribed = As your provider told you
fluids-from = From { $from }
fluids-caffeine = No caffeine from { $from } to { $until }: no coffee, tea, cola, energy drinks or chocolate.
fluids-table = How much water after you wake up
fluids-table-own = Your weight: { $weight }. Your amount: { $amount }.
fluids-weight = Weight
fluids-amount = Most water
fluids-between = { $from } to { $to } { $unit }
fluids-limit = Has someone told you how much to drink? Keep to that, not to this page.
fluids-no-table = There is no table on this page. How much you may drink is for your provider to say.

### Information card

card-title = Information card
card-intro = Fill this in as you go. Send it back with the cards.
card-weight = Weight
card-known = { $label }:
card-phone = Your phone
card-sex = Sex
card-cycle = First day of your last period, if you have periods
card-pregnant = Pregnant?
card-yes = Yes
card-no = No
card-provider = Provider
card-accession = Laboratory number (the laboratory fills this in)
card-times = What really happened
card-card = Card
card-code = Number
card-planned = Planned
card-emptied = Bladder emptied at
card-date = Date
card-time = Time done
card-spare = Spare
card-woke = I woke up at
card-slept = I went to sleep at
card-times-up = I got up while I slept at
card-drinks = What I drank, how much and when
card-medicines = Medicines: when I really took them
card-medicine-other = Other medicines, vitamins, creams
card-sign = I did these cards myself. Name and date:
card-day-and-time = { $day }, { $time }
card-day-and-midnight = { $time } into { $day }

### Return checklist

list-title = Before you post
list-intro = Do this from { $when } on. If you made up a card, first sleep once more.
list-dry = Every card is dry. If one is damp, wait.
list-date = Every card you used has the date and time you did it.
list-name = Every card has your name and birth date.
list-bag = Each card is in its own bag, with the label folded back.
list-bag-desiccant = The drying packet that came with the bag is in it.
list-spare = The spare card is in its bag, used or not.
list-card = The information card is filled in and in the envelope.
list-close = The envelope is closed. Nothing is written on the outside but the address.
list-post = Post it on { $date }. After a make-up: on the next day with post.
list-post-undated = Post it on the next day with post. Sundays and holidays do not count.
list-check-post = Ask first if there is post that day.
list-address = Send it to
list-keep = Keep this page.
list-cards = Cards in this kit

### Labels

card-number = Card { $card }
card-number-spare = Spare card
label-planned = Planned { $time }
label-planned-spare = Only if you get up from sleep
label-collected = Collected
label-date = date
label-time = time
label-half = am / pm
label-heading = { $card } – { $title }
label-born-short = Born { $date }
label-ruler = This line is 100 mm long. Print at 100 %.
paper-title = Paper of kits
label-sheet-title = Card labels
label-qr-alt = QR code: { $code }

### Packing slip

pack-title = Packing slip
pack-for = For the packer. Do not put this in the kit.
pack-contents = Put in the kit
pack-sheet = Instruction sheet, { $pages ->
    [one] { $pages } page
   *[other] { $pages } pages
 }
pack-fluids = Drinks table and return checklist, { $pages ->
    [one] { $pages } page
   *[other] { $pages } pages
 }
pack-card = Information card, { $pages ->
    [one] { $pages } page
   *[other] { $pages } pages
 }
pack-cards = Cards with labels: { $count }
pack-bags = Bags with drying packets: { $count }
pack-cup = Collection cup: 1
pack-envelope = Return envelope, addressed: 1
pack-tick = Stick each label on its card. Tick the number against the card.
pack-revised = These are for { $mark }: put in only pages and labels that say so. Throw the earlier ones away.
pack-alike = The name is like that of { $order }.
pack-findings = Look at this before you close the kit
pack-paper = Paper
pack-large = { $paper }, large print
pack-language = Language
pack-stock = Labels
pack-start = Card 1 on
pack-undated = no date
pack-protocol = Protocol
pack-approval = Approved by
pack-approved = { $by }, { $on }
pack-unapproved = nobody named in lab.toml
pack-packed = Packed by
pack-checked = Checked by

# The run sheet, for the packer.

cover-title = Run sheet
cover-run = Run
cover-part = { $run }, part { $part } of { $parts }
cover-kits = Kits in this part
cover-paper = Paper
cover-leaves = { $leaves ->
    [one] 1 leaf, both sides
   *[other] { $leaves } leaves, both sides
}
cover-sheets = { $stock }: { $sheets ->
    [one] 1 sheet
   *[other] { $sheets } sheets
}, first label in cell { $cell }
cover-labels = { $stock }: { $count ->
    [one] 1 label
   *[other] { $count } labels
}
cover-whole = Whole run
cover-counts = { $made } made, { $out } left out
cover-ledger = Ledger
cover-no-ledger = no ledger
cover-left-out = Left out: no kit was made
cover-list = Kits, in the order of the piles
cover-number = No.
cover-note = Note
cover-large = large print
cover-things = { $count ->
    [one] 1 thing to look at
   *[other] { $count } things to look at
}
cover-past = day is today or past
cover-alike = name like that of { $order }
pack-place = Place in the piles
pack-place-of = No. { $number }: paper sides { $first } to { $last }, labels { $labels }
