// Package letter writes the practice's letters from the findings of a wear.
//
// [Compose] puts the facts of one wear into the text of a kind of letter.
// The text may be the practice's own ([ComposeFrom]); [Check] says what such a
// text may not say. A letter is plain text: paragraphs parted by an empty line,
// "# " before a heading, "- " before an item of a list; [Blocks] takes it
// apart for a page.
//
// # Guarantees
//
// A letter holds one measurement at most. It names no illness as found, no
// dose, and gives no comfort that the evidence does not carry. The words for
// patients stay at or below the reading of United States school grade 8 by
// [Grade]. A field that is not known is an error, never an empty place.
package letter
