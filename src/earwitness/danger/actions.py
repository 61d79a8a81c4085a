"""What comes first, in sentences. All of it gives way to the site's rules and to the people licensed for the job."""

from __future__ import annotations

from earwitness.sentence import say

GET_AWAY = say(
    "get-away",
    "Keep people away, cause no spark or flame and switch nothing there; tell the person responsible for gas now. "
    "The site's emergency rules come first.",
)
NO_PERMISSION = say(
    "no-permission",
    "Gas at the leak may already be ignitable; this calculation gives no permission to stay, enter or delay.",
)
USE_DETECTOR = say(
    "use-gas-detector",
    "Measure with a gas detector that is made for this gas; ultrasound alone never clears a flammable or toxic leak.",
)
USE_FLAMMABLE_DETECTOR = say(
    "find-out-what-gas",
    "Find out what gas it is before anything else; until then treat it as one that burns and poisons. "
    "A gas detector tells, ultrasound does not.",
)
NO_ENTRY = say(
    "no-entry",
    "Do not enter or stay in the confined space: entry is for trained people with a permit, measured air and a watch "
    "outside. A confined space counts as hazardous above 10 % of the lower flammable limit.",
)
LEAVE_TOXIC = say(
    "leave-toxic",
    "Leave across the wind, keep others out and tell the person responsible; go back only as the site's rules for "
    "this gas allow, with the breathing protection that they name.",
)
OXYGEN_MONITOR_NO_USE = say(
    "oxygen-monitor-no-use",
    "An oxygen monitor does not protect against carbon dioxide: it poisons while oxygen still reads normal. "
    "Use a carbon dioxide monitor.",
)
MEASURE_OXYGEN = say(
    "measure-oxygen", "Measure the oxygen in the air before you go in or stay, low and high, and let fresh air in."
)
NO_OIL_NO_FLAME = say(
    "no-oil-no-flame",
    "No flame, sparks, oil or grease near oxygen; clothes that have soaked it up burn fiercely: air them outdoors.",
)
INVISIBLE_STEAM = say(
    "invisible-steam",
    "Steam is invisible at the leak and burns or cuts before it is seen: keep clear, do not search with hand or face, "
    "close the area off until it is isolated.",
)
HAND_OFF_JET = say(
    "hand-off-jet", "Never feel for the leak with a hand: gas under pressure goes through skin. Protect eyes and ears."
)
STOP_AND_TELL_ELECTRICAL = say(
    "stop-and-tell-electrical",
    "Do not open, touch or switch; keep everyone outside the boundaries of the site's electrical risk assessment and "
    "tell the authorised electrical person now.",
)
TELL_ELECTRICAL = say(
    "tell-electrical",
    "Do not open, touch or switch; stay outside the boundaries of the site's electrical risk assessment and tell the "
    "authorised electrical person, who decides when it is looked at.",
)
STOP_MACHINE = say(
    "stop-machine",
    "Tell the person in charge of the machine now, who decides by the site's rules whether it is stopped; nobody near "
    "it or carried by it until then.",
)
PLAN_MACHINE = say("plan-machine", "Look again with vibration or with the machine stopped and locked; plan the repair.")
CHECK_LUBRICATION = say(
    "check-lubrication", "Look at lubrication, load and alignment; grease by the maker's amount, never past a guard."
)
SECURE_PROCESS = say(
    "secure-process",
    "Air drawn into a process that holds flammable gas can make it ignitable inside: tell the process's operator now.",
)
