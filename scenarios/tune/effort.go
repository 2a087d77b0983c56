package tune

import (
	"fmt"
	"strings"

	"dialwright/scenarios"
)

// What a search may cost, events of its paths. Ours: a processor of today does some 30
// million in a second, a search on a rig as it is sold less than 10⁸. A rig whose contacts
// chatter for long while they are read every microsecond takes a thousand times that.
const (
	eventsASecond = 30_000_000
	longSearch    = 30 * eventsASecond  // from here on it is said
	refusedSearch = 600 * eventsASecond // and from here on refused
)

// afford says when a search would take long, and refuses one that would take a person's
// afternoon, with the keys of the rig that make it so.
func (s *search) afford(boards []*board) error {
	sum, most := int64(0), int64(0)
	var rig string
	var keys []string
	for _, b := range boards {
		for i, u := range b.uses {
			for _, at := range u.spots {
				if b.dead != nil {
					continue
				}
				seat, err := s.grips.Seat(at.Served, b.now[i], at.operator)
				if err != nil {
					return err
				}
				n, by := int64(0), []string(nil)
				for t := range attemptTrials {
					seat.Run(s.Seed, t)
					var events int64
					events, by = seat.Cost()
					n += events
				}
				n *= trialsAUse / attemptTrials
				if sum += n; n > most {
					most, rig, keys = n, at.Knob.Inner.Name, by
				}
			}
		}
	}
	if sum < longSearch {
		return nil
	}
	long := fmt.Sprintf("rig %s: a search may take some %d minutes of a processor, because of %s; a slower firmware.scan, a shorter queue or fewer tasks make it shorter",
		scenarios.Shown(rig), max(1, sum/eventsASecond/60), strings.Join(keys, ", "))
	if sum >= refusedSearch {
		return fmt.Errorf("%s (%d minutes are allowed)", long, refusedSearch/eventsASecond/60)
	}
	s.say(long)
	return nil
}
