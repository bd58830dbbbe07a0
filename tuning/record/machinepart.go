package record

import "eha/strokewise/ident/machine"

// machineOf is the machine file's content as a plant document keeps it.
type machineOf machine.Machine

// encodeMachine leaves the columns' mapping out: it belongs to logs, not to the plant.
func encodeMachine(m machine.Machine) machineOf {
	m.Channels = nil
	return machineOf(m)
}
