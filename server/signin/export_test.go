package signin

// What the tests from outside ask about.
const CodeCount = codeCount
const ConfirmFactorPath = confirmFactorPath

const PendingTries = pendingTries

var NewFactor = newFactor
