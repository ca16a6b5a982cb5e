package wear

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Audit is what was found in a period and what came of it, in counts: never a
// name, never a reading of one person. A wear belongs to the period in which
// its first file came. How it went on is told as of At, so that a late result
// still counts for the wear that it was ordered after.
type Audit struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to" doc:"excluded"`
	At   time.Time `json:"at" doc:"everything is as it stood then"`

	Worth     Worth          `json:"worth"`
	Files     AuditFiles     `json:"files"`
	Tiers     []AuditTier    `json:"tiers" doc:"every tier, the most pressing first"`
	Months    []AuditMonth   `json:"months"`
	Flags     []AuditFlag    `json:"flags" doc:"a wear with several flags stands under each"`
	Unflagged AuditFlag      `json:"unflagged"`
	Outcomes  []AuditCount   `json:"outcomes" doc:"of the wears off the round"`
	Waits     []AuditWait    `json:"waits"`
	Tests     AuditTests     `json:"tests" doc:"after wears that needed follow-up"`
	Routine   AuditTests     `json:"routine_tests" doc:"after routine wears"`
	Kinds     []AuditKind    `json:"sensor_kinds"`
	Again     AuditAgain     `json:"again"`
	Recalls   []AuditRecall  `json:"recalls" doc:"due in the period, at the latest now"`
	Letters   []AuditLetters `json:"letters" doc:"written in the period"`
	Changes   AuditChanges   `json:"changes"`
}

// Doubted is how many of the readings are not believed.
func (r *Report) Doubted() int { return r.Readings - r.Believed }

// AuditCount is how many wears something is true of.
type AuditCount struct {
	Code string `json:"code"`
	N    int    `json:"n"`
}

// AuditTier counts the wears of one tier, which is that of their first report.
// Read is the sum of the five below it.
type AuditTier struct {
	Tier    Tier `json:"tier"`
	Read    int  `json:"read"`
	InTime  int  `json:"in_time" doc:"off the round, with a first outcome by the day it was due"`
	Late    int  `json:"late" doc:"off the round, with a later first outcome"`
	NotDue  int  `json:"not_due" doc:"on the round, not past due"`
	Overdue int  `json:"overdue" doc:"on the round, past due"`
	Lost    int  `json:"lost" doc:"off the round without an outcome: always 0"`

	Early      int `json:"early" doc:"of those in time, how many were done although their day has not come yet"`
	Again      int `json:"again" doc:"of those on the round, how many had an outcome before"`
	OldestDays int `json:"oldest_days" doc:"whole days for which the oldest of those on the round has waited since it was read"`
}

// Done is how many are off the round with an outcome.
func (t AuditTier) Done() int { return t.InTime + t.Late }

// Come is how many there are whose day has come, and how many of them were done
// in time.
func (t AuditTier) Come() (in, of int) { return t.InTime - t.Early, t.Read - t.NotDue - t.Early }

// Open is how many are on the round.
func (t AuditTier) Open() int { return t.NotDue + t.Overdue }

// FollowUp is the sum of the tiers before [Routine]: the wears that somebody
// had to follow up.
func (a *Audit) FollowUp() AuditTier {
	return a.sum(func(t Tier) bool { return t != Routine })
}

// Of gives the counts of one tier.
func (a *Audit) Of(tier Tier) AuditTier {
	s := a.sum(func(t Tier) bool { return t == tier })
	s.Tier = tier
	return s
}

// All is the sum of all tiers.
func (a *Audit) All() AuditTier { return a.sum(func(Tier) bool { return true }) }

func (a *Audit) sum(in func(Tier) bool) AuditTier {
	var s AuditTier
	for _, t := range a.Tiers {
		if !in(t.Tier) {
			continue
		}
		s.Read += t.Read
		s.InTime += t.InTime
		s.Late += t.Late
		s.NotDue += t.NotDue
		s.Overdue += t.Overdue
		s.Lost += t.Lost
		s.Early += t.Early
		s.Again += t.Again
		s.OldestDays = max(s.OldestDays, t.OldestDays)
	}
	return s
}

// AuditMonth counts the wears read in one month, or the part of it that lies in
// the period. Read is FollowUp and the routine ones, each of them Done or Open.
type AuditMonth struct {
	Month        string `json:"month" doc:"2006-01"`
	Read         int    `json:"read"`
	FollowUp     int    `json:"follow_up"`
	FollowUpDone int    `json:"follow_up_done" doc:"of those, off the round with an outcome"`
	Done         int    `json:"done" doc:"of all, off the round with an outcome"`
}

// AuditFlag counts the wears with a flag: one that a wear was closed with, or
// that stands now on one that is open.
type AuditFlag struct {
	Code     string       `json:"code"`
	Wears    int          `json:"wears"`
	Open     int          `json:"open" doc:"on the round"`
	Outcomes []AuditCount `json:"outcomes" doc:"of those off the round; the most frequent first"`
}

// AuditWait is how long something took: over those for which it has happened,
// of those for which it could. Percentiles are those of [quantile].
type AuditWait struct {
	Code     string `json:"code" enum:"to_claim|claim_to_outcome|to_outcome|held"`
	Tier     Tier   `json:"tier" doc:"of the wears; empty: all that needed follow-up, or files"`
	N        int    `json:"n" doc:"for which it has happened"`
	Of       int    `json:"of"`
	MedianS  int64  `json:"median_s"`
	NinetyS  int64  `json:"ninety_s" doc:"nine in ten took no longer"`
	LongestS int64  `json:"longest_s"`
}

// The waits that an audit measures.
const (
	WaitToClaim        = "to_claim"         // from read to first claimed
	WaitClaimToOutcome = "claim_to_outcome" // from first claimed to first outcome
	WaitToOutcome      = "to_outcome"       // from read to first outcome
	WaitHeld           = "held"             // of a file, from held to filed or refused
)

// NewAuditWait measures the given waits, in seconds, and puts them in another
// order.
func NewAuditWait(code string, tier Tier, of int, seconds []float64) AuditWait {
	w := AuditWait{Code: code, Tier: tier, N: len(seconds), Of: of}
	if w.N > 0 {
		w.MedianS, w.NinetyS = int64(quantile(seconds, 0.5)), int64(quantile(seconds, 0.9))
		w.LongestS = int64(slices.Max(seconds))
	}
	return w
}

// AuditTests counts the wears after which tests were ordered, by the most
// serious of the results that came back. Ordered is the sum of all below it.
type AuditTests struct {
	Ordered      int `json:"ordered"`
	Confirmed    int `json:"confirmed" doc:"in the diabetes range, and so was a sample of another day"`
	InRange      int `json:"in_range" doc:"in the diabetes range, not confirmed"`
	Pregnancy    int `json:"pregnancy" doc:"past a limit of the criteria for pregnancy"`
	Intermediate int `json:"intermediate" doc:"between normal and the diabetes range"`
	LookAgain    int `json:"look_again" doc:"between the printed bands"`
	Below        int `json:"below" doc:"below every range that asks for more"`
	NotCompared  int `json:"not_compared" doc:"a result came that no criteria judge"`
	Waiting      int `json:"waiting" doc:"no result, not past due"`
	Overdue      int `json:"overdue" doc:"no result, past due"`
	GivenUp      int `json:"given_up" doc:"no result, and no longer waited for"`
}

// Back is how many had a result.
func (t AuditTests) Back() int { return t.Ordered - t.Missing() }

// Missing is how many had none.
func (t AuditTests) Missing() int { return t.Waiting + t.Overdue + t.GivenUp }

// Diabetes is how many had a result in the diabetes range, confirmed or not.
func (t AuditTests) Diabetes() int { return t.Confirmed + t.InRange }

// AuditKind counts the wears of one sensor kind.
type AuditKind struct {
	Kind        string `json:"kind" doc:"the practice's own code; empty where it was not recorded"`
	Wears       int    `json:"wears"`
	SensorDoubt int    `json:"sensor_in_doubt"`
	TooLittle   int    `json:"too_little_data"`
	Replaced    int    `json:"to_be_replaced" doc:"with that outcome"`
	Readings    int    `json:"readings" doc:"of the wears for which it is known how many were believed"`
	Doubted     int    `json:"doubted" doc:"of those, not believed"`
}

// AuditAgain compares wears with the one that the same patient had before.
// Wears is the sum of the four below it; less pressing may owe as much to
// chance, to another sensor kind or to the season as to any change.
type AuditAgain struct {
	Wears   int         `json:"wears"`
	Less    int         `json:"less_pressing"`
	Same    int         `json:"as_pressing"`
	More    int         `json:"more_pressing"`
	Unclear int         `json:"unclear" doc:"one of the two could not tell"`
	Other   int         `json:"other_kind" doc:"of all, worn with another sensor kind than before, or one of the two not recorded"`
	Pairs   []AuditPair `json:"pairs" doc:"in the order of the tiers"`
}

// AuditPair counts the wears of one tier after one of another.
type AuditPair struct {
	Before Tier `json:"before"`
	After  Tier `json:"after"`
	N      int  `json:"n"`
}

// NewAuditAgain sums up pairs of tiers before and after.
func NewAuditAgain(pairs map[[2]Tier]int, other int) AuditAgain {
	a := AuditAgain{Other: other, Pairs: []AuditPair{}}
	for p, n := range pairs {
		a.Pairs = append(a.Pairs, AuditPair{p[0], p[1], n})
		a.Wears += n
		switch before, after := p[0].Rank(), p[1].Rank(); {
		case p[0] == CannotTell || p[1] == CannotTell:
			a.Unclear += n
		case after > before:
			a.Less += n
		case after < before:
			a.More += n
		default:
			a.Same += n
		}
	}
	slices.SortFunc(a.Pairs, func(p, q AuditPair) int {
		return cmp.Or(cmp.Compare(p.Before.Rank(), q.Before.Rank()), cmp.Compare(p.After.Rank(), q.After.Rank()))
	})
	return a
}

// AuditRecall counts recalls of one kind. Due is the sum of the four below it.
// One that followed an outcome that was undone or corrected is left out.
type AuditRecall struct {
	Kind      string `json:"kind"`
	Due       int    `json:"due"`
	InTime    int    `json:"in_time" doc:"done by the day it was due"`
	Late      int    `json:"late" doc:"done later"`
	Cancelled int    `json:"cancelled"`
	Missed    int    `json:"missed" doc:"past due and open"`
	Untried   int    `json:"untried" doc:"of those missed, nobody has tried"`
}

// AuditLetters counts letters of one kind. Written is the sum of the three
// below it.
type AuditLetters struct {
	Kind      string `json:"kind"`
	Written   int    `json:"written"`
	Sent      int    `json:"sent"`
	Discarded int    `json:"discarded"`
	Unsent    int    `json:"unsent" doc:"still open"`
}

// AuditChanges counts the outcomes recorded in the period. Outcomes is the sum
// of the three below it.
type AuditChanges struct {
	Outcomes  int `json:"outcomes"`
	Standing  int `json:"standing"`
	Corrected int `json:"corrected" doc:"another was put in its place"`
	Undone    int `json:"undone" doc:"taken back at once"`
}

// AuditFiles counts the distinct contents received in the period. Received is
// the sum of the three below it.
type AuditFiles struct {
	Received int `json:"received"`
	Filed    int `json:"filed"`
	Held     int `json:"held" doc:"waiting for an answer"`
	Refused  int `json:"refused" doc:"cannot be read"`

	Wait AuditWait `json:"wait" doc:"of those that waited for an answer at some time"`
}

// Wilson is the 95 % interval of a share of n in of, in per cent: what the
// share could be were the same counted among many more. Not available for
// none. Source: J Am Stat Assoc 1927;22:209 (doi:10.1080/01621459.1927.10502953).
func Wilson(n, of int) Range {
	if of <= 0 {
		return Range{}
	}
	const z = 1.959964
	size, share := float64(of), float64(n)/float64(of)
	middle := share + z*z/(2*size)
	half := z * math.Sqrt(share*(1-share)/size+z*z/(4*size*size))
	whole := 1 + z*z/size
	return Range{Low: Of(max(0, 100*(middle-half)/whole)), High: Of(min(100, 100*(middle+half)/whole))}
}
