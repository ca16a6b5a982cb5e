package sim

// food is something eaten, in the words a wearer might write.
type food struct {
	label string
	carbs float64 // g in a usual portion; common practice, rounded
	speed float64 // factor on the gut's rates: see [living.eat]
}

// The larder, one list a time of day. Portions are everyday ones from memory.
var (
	breakfasts = []food{
		{"porridge with banana", 48, 0.75}, {"toast and jam", 42, 1.05}, {"muesli and yoghurt", 45, 0.70},
		{"congee with egg", 40, 1.05}, {"idli and sambar", 46, 0.80}, {"arepa with cheese", 38, 0.75},
		{"labneh and flatbread", 36, 0.75}, {"miso soup and rice", 44, 0.90}, {"eggs on toast", 26, 0.70},
		{"cereal and milk", 46, 1.10}, {"shakshuka and bread", 34, 0.70}, {"paratha and curd", 44, 0.65},
		{"two boiled eggs", 2, 0.60}, {"cheese and rye bread", 28, 0.65}, {"fried plantain and eggs", 40, 0.75},
	}
	lunches = []food{
		{"ham sandwich", 36, 0.80}, {"lentil soup and bread", 46, 0.60}, {"sushi box", 62, 0.90},
		{"noodle soup with beef", 55, 0.80}, {"falafel wrap", 55, 0.70}, {"jollof rice and chicken", 68, 0.80},
		{"chicken salad", 12, 0.60}, {"pasta with pesto", 66, 0.65}, {"cheese toastie", 34, 0.75},
		{"dosa and chutney", 54, 0.85}, {"bean burrito", 62, 0.60}, {"leftover curry and rice", 60, 0.75},
		{"jacket potato with tuna", 52, 0.85}, {"pierogi", 56, 0.70}, {"tofu and rice bowl", 58, 0.75},
	}
	dinners = []food{
		{"dal and rice", 70, 0.65}, {"roast lamb and potatoes", 46, 0.65}, {"grilled fish and vegetables", 20, 0.60},
		{"pizza", 82, 0.60}, {"chicken biryani", 78, 0.70}, {"stir-fry with noodles", 62, 0.75},
		{"tacos", 48, 0.65}, {"injera with lentils", 68, 0.65}, {"mushroom risotto", 66, 0.75},
		{"moussaka", 30, 0.55}, {"chilli and rice", 62, 0.60}, {"sausages and mash", 44, 0.75},
		{"tagine with couscous", 58, 0.65}, {"goulash and dumplings", 54, 0.65}, {"omelette and salad", 8, 0.60},
	}
	snacks = []food{
		{"apple", 16, 0.80}, {"two biscuits", 18, 0.95}, {"square of chocolate", 12, 0.70}, {"yoghurt", 16, 0.80},
		{"mango", 24, 0.90}, {"handful of nuts", 5, 0.50}, {"chai and rusk", 20, 1.00}, {"banana", 24, 0.90},
		{"cheese and crackers", 14, 0.75}, {"glass of juice", 24, 1.30}, {"dates", 26, 0.95}, {"scone", 34, 0.90},
	}
	// rich is what brings on a reactive dip: much carbohydrate, quickly absorbed.
	rich = []food{
		{"white rice and sweet sauce", 92, 1.20}, {"pancakes and syrup", 88, 1.25}, {"big bowl of cereal", 80, 1.25},
		{"chips and cola", 95, 1.20}, {"white bread rolls and jam", 84, 1.25}, {"bubble tea and bun", 90, 1.30},
	}
)
