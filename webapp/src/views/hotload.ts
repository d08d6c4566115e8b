// The caution about the load, in the same words on every screen. The set-up
// check of the core and the test sheet on paper say the same.
export const hotLoad =
  "The load and its leads get hot enough to burn skin. Touch neither the load nor bare leads: hold it by an insulated clip, " +
  "handle or connector, or let it lie on something that cannot burn. Leave it until it has cooled.";
