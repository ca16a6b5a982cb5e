package wear

// Parts of words that ship with the protocol, in several languages. They raise
// and suggest, and are no more than that: what none of them knows waits to be
// read like everything else. A star stands for a few words between.
var (
	severeWords = []string{
		"unconscious", "collaps", "pass out", "passed out", "passing out", "black out", "blacked out", "blackout", "fainted", "fainting", "syncop", "lost consc", "loss of consc", "lost conc", "regained consc", "not conscious", "rushed to hospital", "taken to hospital", "to a&e", "casualty",
		"seizure", "convuls", "had a fit", "ambulance", "paramedic", "emergency",
		"not * wak", "n't * wak", "unrespons", "not respond", "n't respond", "come round", "found me", "found him", "found her",
		"needed help", "had to help", "had to be helped", "confus", "disorient", "delir", "didn't know where", "did not know where",
		"hold me up", "held me up", "propped me", "laid me on", "spoonfed", "spoon-fed", "triple zero", "out cold", "i was out", "no sense", "open my eyes", "came to on", "came too on", "on the floor", "gave no answer",
		"chest pain", "chest tight", "could not speak", "couldn't speak", "could not move", "couldn't move", "fell over", "incontin", "glucagon",
		"bewusstlos", "ohnmacht", "ohnmächtig", "umgekippt", "zusammengebrochen", "krampfanfall", "nicht ansprechbar", "nicht * weck", "notarzt", "rettungs", "verwirrt",
		"évanoui", "evanoui", "inconscien", "connaissance", "convuls", "réveill", "samu", "urgences", "confus",
		"desmay", "inconsci", "convuls", "perdió el conoc", "perdi el conoc", "despertar", "ambulanc", "confund",
		"svenut", "svenn", "perso i sensi", "coscienza", "svegliar", "flauw", "bewusteloos", "wakker", "verward", "desmai", "acordar",
		"medvetslös", "svimma", "bevidstløs", "besvim", "krampe", "kramp", "tajunn", "nieprzytom", "zemdl", "omdl", "bezvědom", "потер", "сознан", "обморок",
		"baygın", "bayıl", "weggetreten", "晕倒", "昏", "急诊", "急救", "救护", "救急", "倒れ", "失神", "意識", "🚑", "🏥",
	}
	brainWords = []string{
		"drows", "faint", "not myself", "slur", "speech", "speaking", "vision", "blur", "seeing double", "unsteady", "incoordinat", "clumsy", "odd behav", "weird", "concentrat", "muddl", "find * words", "words out", "can't think",
		"could not think", "couldn't think", "brain fog", "foggy", "dizz", "light-head", "lightheaded", "light headed", "woozy", "weak", "wobbl", "spaced", "giddy",
		"schwindel", "schwach", "vertige", "mareo", "maread", "vertigin", "debole", "duizel", "tontur", "yr ", "svimmel",
	}
	highWords = []string{
		"thirst", "drinking a lot", "drinking loads", "drinking so much", "always drinking", "drinking * water", "can't stop drinking", "dry mouth", "parched",
		"urin", "polyuri", "polydips", "peeing", "weeing", "passing water", "toilet", "bed-wet", "bedwet", "wet the bed", "wetting",
		"weight loss", "losing weight", "lost weight", "lost * kg", "lost * kilo", "lost * stone", "lost * pounds", "weight * down", "thinner", "clothes * loose", "trousers * loose",
		"blur", "durst", "gewicht", "abgenommen", "wasserlassen", "soif", "maigri", "perdu du poids", "uriner", "mucha sed", "adelgaz",
		"sete", "dimagr", "dorst", "afgevallen", "plassen", "törst", "tørst",
	}
	lowWords = []string{
		"shak", "trembl", "tremor", "sweat", "clammy", "cold sweat", "palpit", "racing heart", "heart rac", "pounding", "heart * fast", "anxious", "anxiety", "panic", "jitter", "nervous",
		"hungry", "hunger", "ravenous", "starving", "tingl", "pale", "pallor", "nausea", "sick", "vomit", "headache", "head ache", "tired", "exhaust", "fatigue", "lethar", "sleepy", "unwell",
		"funny turn", "peculiar", "saw stars", "seeing stars", "the clappers", "dripping wet", "soaked", "drenched", "😰", "🥶", "💦", "🤢", "🥵", "off colour", "felt off", "feeling off", "felt odd", "felt bad", "felt low", "feel low", "hypo", "irritab", "angry", "crash", "hot flush", "awful", "terrible",
		"zitt", "schwitz", "müde", "übel", "herzrasen", "kopfschmerz", "hunger", "trembl", "sueur", "fatigu", "nausé", "faim", "palpitation", "tembl", "sudor", "sudando", "hambre", "cansad",
		"tremo", "sudat", "stanc", "zwet", "misselijk", "tremend", "suor", "skak", "svett", "dårlig", "trött",
	}
	reliefWords = []string{
		"better", "relie", "passed off", "passed after", "gone after", "went away", "gone", "fine again", "ok again", "okay again", "settled", "recovered", "back to normal",
		"besser", "wieder gut", "mieux", "passé", "mejor", "meglio", "passata", "beter", "melhor", "bättre", "bedre",
	}
	alcoholWords = []string{
		"alcohol", "beer", "wine", "cider", "sherr", "whisky", "vodka", "prosecco", "champagne", "pint", "gin ", "rum ",
		"bier", "wein", "alkohol", "vin ", "bière", "cerveza", "vino", "birra", "øl ", "öl ",
	}
	// The stems gli-, -glinide and insulin are those of non-proprietary names.
	medicineWords = []string{
		"insulin", "insuline", "инсулин", " glib", " glic", " glim", " glip", " gliq", " glyb", "glib", "glicl", "glimep", "glipiz", "glyburid", "glinid",
		"sugar tablet", "sulfonylurea", "sulphonylurea", "tolbutamid", "chlorpropamid",
	}
)
