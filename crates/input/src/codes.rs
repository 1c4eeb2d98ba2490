//! Codes of the diagnostics. A code keeps its meaning for ever and is never used again for another.

use model::Code;

macro_rules! codes {
    ($($(#[doc = $meaning:literal])+ $name:ident $code:literal)*) => {
        $($(#[doc = $meaning])+ pub const $name: Code = Code($code);)*
        /// Every code with its meaning, in order.
        pub const ALL: &[(Code, &str)] = &[$(($name, concat!($($meaning),+))),*];
    };
}

codes! {
    /// the TOML cannot be read here
    SYNTAX "IN-01"
    /// the file is not UTF-8 text
    NOT_UTF8 "IN-02"
    /// a file, line, table or nesting is larger than this program reads
    TOO_LARGE "IN-03"
    /// no file of the folder says `format = 1`
    NO_FORMAT "IN-04"
    /// the format number is one that this program does not read
    OTHER_FORMAT "IN-05"
    /// a key that the table does not have
    UNKNOWN_KEY "IN-06"
    /// a kind of table that does not exist
    UNKNOWN_TABLE "IN-07"
    /// a key that the table needs is missing
    MISSING_KEY "IN-08"
    /// a value of another type is expected
    WRONG_TYPE "IN-09"
    /// a number without its unit
    NO_UNIT "IN-10"
    /// a unit that is unknown or measures something else
    WRONG_UNIT "IN-11"
    /// a text that is not a number
    NOT_A_NUMBER "IN-12"
    /// a number outside the range of its field
    OUT_OF_RANGE "IN-13"
    /// least, typical and greatest are not in that order
    SPREAD_ORDER "IN-14"
    /// a word that is none of those the field takes
    UNKNOWN_WORD "IN-15"
    /// a text that cannot be an id
    BAD_ID "IN-16"
    /// the same id, key or column twice
    TWICE "IN-17"
    /// two ids of a kind that people will confuse
    LOOK_ALIKE "IN-18"
    /// an id that nothing has
    UNKNOWN_ID "IN-19"
    /// a text that is not the end of a conductor
    BAD_END "IN-20"
    /// a pin that its connector does not have
    NO_SUCH_PIN "IN-21"
    /// both ends on the same point
    SAME_END "IN-22"
    /// two connectors do not agree on what mates with what
    MATES_DISAGREE "IN-23"
    /// `TBD` or `TBC` where a value must be known
    CANNOT_BE_OPEN "IN-24"
    /// none or more than one of several keys of which exactly one is needed
    EXACTLY_ONE "IN-25"
    /// a commanded state that the element cannot have, or two at once
    BAD_STATE "IN-26"
    /// a wire type that the catalog does not have
    UNKNOWN_WIRE_TYPE "IN-27"
    /// a wire type without this gauge
    NO_SUCH_GAUGE "IN-28"
    /// a contact size that the catalog does not have
    UNKNOWN_CONTACT "IN-29"
    /// a column head that the table does not have
    UNKNOWN_HEAD "IN-30"
    /// a column that the table needs is missing
    MISSING_HEAD "IN-31"
    /// a row with more or fewer cells than there are heads
    CELL_COUNT "IN-32"
    /// a quoted cell that never ends
    OPEN_QUOTE "IN-33"
    /// a file of the folder that was not read
    FILE_NOT_READ "IN-34"
    /// a connector that only the wire list names
    UNDECLARED_CONNECTOR "IN-35"
    /// a wire listed to the unit's half of a connector whose other half is declared
    WRONG_HALF "IN-36"
    /// two halves that mate but do not fit
    HALVES_DO_NOT_FIT "IN-37"
    /// a text that is not a date
    BAD_DATE "IN-38"
    /// a text longer than its field holds
    TOO_LONG "IN-39"
    /// a table in a file where it has no meaning
    WRONG_FILE "IN-40"
    /// a folder with neither a vehicle file nor a wire list
    NOTHING_TO_READ "IN-41"
    /// two values of a row that contradict each other
    CONTRADICTION "IN-42"
    /// a value that the row's kind does not have
    NOT_FOR_THIS_KIND "IN-43"
    /// an insert arrangement that the catalog does not have
    UNKNOWN_ARRANGEMENT "IN-44"
    /// two items on one connector at once
    TAKEN "IN-45"
    /// a pin's row on the interface sheet of another unit
    OTHER_UNIT "IN-46"
    /// more problems than are told one by one
    MORE_PROBLEMS "IN-47"
    /// what is written has no effect, since what it belongs to is missing
    NO_EFFECT "IN-48"
    /// a list, table or text that holds nothing
    EMPTY "IN-49"
    /// a file that is not plain text: a workbook, an archive, UTF-16
    NOT_TEXT "IN-50"
    /// a type of breaker, fuse or limiter that the catalog does not have
    UNKNOWN_DEVICE "IN-51"
    /// a type of battery that the catalog does not have
    UNKNOWN_BATTERY "IN-52"
    /// phases that overlap, leave a gap, or something commanded after a phase has ended
    BAD_TIME "IN-53"
}
