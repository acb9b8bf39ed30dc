namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>Every mistake among the alarms alone: the exact path and message, and nothing beside it.</summary>
public class AlarmMistakeTests
{
    private const string R = "alarms.rules[0]";

    public static TheoryData<string, string?, string> Wrong => new()
    {
        // The plant.
        { "timeZone", "\"Europe/Berln\"", "error timeZone: 'Europe/Berln' is no time zone known to this machine; did you mean 'Europe/Berlin'?" },
        { "timeZone", "\"Central Standard Time\"", "error timeZone: 'Central Standard Time' is no time zone known to this machine; that is its name in Windows; write 'America/Chicago'" },
        { "timeZone", "\"somewhere else\"", "error timeZone: 'somewhere else' is no time zone known to this machine; write the name of the IANA data base, for example \"Europe/Berlin\" or \"America/Chicago\"" },
        { "timeZone", "1", "error timeZone: is a number; write a text in double quotes, for example \"Europe/Berlin\"" },
        { "units", "\"imperial\"", "error units: 'imperial' is not known; write \"metric\" or \"inch\"" },
        { "saws[0].group", "\"/\"", "error saws[0].group: '/' is no name; write letters, digits, blanks and - _ . with a letter or digit at both ends, for example \"bay-1\"" },
        { "alarms", "[]", "error alarms: is a list; write an object: { ... }" },
        { "alarms.rule", "[]", "error alarms.rule: is not known here; did you mean 'rules'?" },

        // What a rule looks at.
        { $"{R}.name", null, $"error {R}.name: is missing; write for example \"motor hot\"" },
        { $"{R}.on", null, $"error {R}.on: is missing; write \"signal\", \"finding\", \"cycle\", \"blade\", \"oee\", \"communication\" or \"gateway\"" },
        { $"{R}.on", "\"signals\"", $"error {R}.on: 'signals' is not known; write \"signal\", \"finding\", \"cycle\", \"blade\", \"oee\", \"communication\" or \"gateway\"" },
        { $"{R}.signal", "\"motor_laod\"", $"error {R}.signal: 'motor_laod' is not known; did you mean \"motor_load\"?" },
        { $"{R}.cycle", "\"unusual\"", $"error {R}.cycle: belongs to on \"cycle\"; here on is \"signal\"" },
        { $"{R}.over", "\"8 h\"", $"error {R}.over: belongs to on \"oee\"; here on is \"signal\"" },
        { $"{R}.cuts", "{ \"least\": 2 }", $"error {R}.cuts: belongs to on \"finding\"; here on is \"signal\"" },
        { "alarms.rules[1].above", "3", "error alarms.rules[1].above: belongs to on \"signal\"; here on is \"finding\"" },
        { "alarms.rules[2].cycle", "\"likely_cause\"", "error alarms.rules[2].above: likely_cause is a text; write \"is\" or \"isNot\" with words\nerror alarms.rules[2].clearAt: likely_cause is a text; write \"is\" or \"isNot\" with words" },

        // Limits and their units.
        { $"{R}.above", null, $"error {R}.above: is missing; write \"above\" or \"below\" with the limit, for example \"above\": \"5.5 kW\"" },
        { $"{R}.above", "7", $"error {R}.above: 7 has no unit; write for example \"5.5 kW\" or \"7.5 hp\"" },
        { $"{R}.above", "\"7\"", $"error {R}.above: '7' has no unit; write for example 5.5 kW or 7.5 hp" },
        { $"{R}.above", "\"7 A\"", $"error {R}.above: '7 A' is no power; write for example 5.5 kW or 7.5 hp" },
        { $"{R}.above", "true", $"error {R}.above: is true; write a number with the variable's unit, for example \"5.5 kW\" or \"30 s\", or the number alone where there is none" },
        { $"{R}.deadband", "\"10 mm\"", $"error {R}.deadband: '10 mm' is no power; write for example 5.5 kW or 7.5 hp" },
        { "alarms.rules[2].above", "\"1.5\"", "error alarms.rules[2].above: is a text; write a number without quotes, for example 3" },
        { "alarms.rules[5].below", "0.4", "error alarms.rules[5].below: 0.4 has no unit; write for example \"80 %\" or \"92.5 %\"" },
        { "alarms.rules[6].above", "\"30 mm\"", "error alarms.rules[6].above: '30 mm' is no time; write for example 250 ms or 5 s" },
        { "alarms.rules[7].below", "\"2 Gb/s\"", "error alarms.rules[7].below: '2 Gb/s' is no disk space; write for example 500 MB or 2 GB" },

        // Conditions that contradict themselves, or can never come or go.
        { $"{R}.below", "\"1 kW\"", $"error {R}.below: \"above\" is stated as well; a rule has one limit, so write two rules" },
        { $"{R}.clearAt", "\"6 kW\"", $"error {R}.clearAt: \"deadband\" is stated as well; keep one of the two" },
        { $"{R}.deadband", "\"-500 W\"", $"error {R}.deadband: is negative; write it without a sign: it is taken off the limit" },
        { $"{R}.is", "true", $"error {R}.is: motor_load is a number; write \"above\" or \"below\" with a limit" },
        { "alarms.rules[2].clearAt", "1.8", "error alarms.rules[2].clearAt: lies on the wrong side: the alarm is raised above 1.5 and would be cleared while it still is; write a value below that" },
        { "alarms.rules[2].clearAt", "0", "error alarms.rules[2].clearAt: the alarm could never clear: cut_time_ratio is never below 0, and it clears below 0; write a value above that" },
        { "alarms.rules[2].above", "-1", "error alarms.rules[2].clearAt: lies on the wrong side: the alarm is raised above -1 and would be cleared while it still is; write a value below that" },
        { "alarms.rules[2]", "{ \"name\": \"x\", \"on\": \"cycle\", \"cycle\": \"load_score\", \"above\": 12 }", "error alarms.rules[2].above: can never be passed: load_score is at most 12; write less" },
        { "alarms.rules[2]", "{ \"name\": \"x\", \"on\": \"cycle\", \"cycle\": \"coverage\", \"above\": -0.5 }", "error alarms.rules[2].above: the alarm could never clear: coverage is never below 0; write a value above that" },
        { "alarms.rules[5].clearAt", "\"30 %\"", "error alarms.rules[5].clearAt: lies on the wrong side: the alarm is raised below 40 % and would be cleared while it still is; write a value above that" },
        { "alarms.rules[5].clearAt", "\"100 %\"", "error alarms.rules[5].clearAt: the alarm could never clear: availability is never above 100 %, and it clears above 100 %; write a value below that" },
        { "alarms.rules[5].below", "\"0 %\"", "error alarms.rules[5].below: can never be passed: availability is at least 0 %; write more" },
        { "alarms.rules[7].below", "\"0 MB\"", "error alarms.rules[7].below: can never be passed: disk_free is at least 0 MB; write more" },
        { "alarms.rules[4].above", "\"-150 %\"", "error alarms.rules[4].above: the alarm could never clear: rise is never below -100 %; write a value above that" },

        // Words.
        { "alarms.rules[3].is", null, "error alarms.rules[3].is: is missing; write the word that raises the alarm, for example \"is\": \"unobserved_end\"" },
        { "alarms.rules[3].is", "[]", "error alarms.rules[3].is: is empty; write a word, for example [ \"aborted\", \"interrupted\" ]" },
        { "alarms.rules[3].is", "true", "error alarms.rules[3].is: outcome is a text; write a word in double quotes" },
        { "alarms.rules[3].is", "5", "error alarms.rules[3].is: is a number; write a text in double quotes, for example \"aborted\"" },
        { "alarms.rules[3].is[1]", "\"interruptd\"", "error alarms.rules[3].is[1]: 'interruptd' is never the outcome of a saw's cut; did you mean 'interrupted'?" },
        { "alarms.rules[3].isNot", "\"completed\"", "error alarms.rules[3].isNot: \"is\" is stated as well; keep one of the two" },
        { "alarms.rules[3].above", "3", "error alarms.rules[3].above: outcome is a text; write \"is\" or \"isNot\" with words" },
        { "alarms.rules[3]", "{ \"name\": \"x\", \"on\": \"cycle\", \"cycle\": \"unusual\", \"is\": \"yes\" }", "error alarms.rules[3].is: unusual is a yes or no; write true or false, without quotes" },
        { "alarms.rules[3]", "{ \"name\": \"x\", \"on\": \"cycle\", \"cycle\": \"unusual\", \"below\": 3 }", "error alarms.rules[3].below: unusual is a yes or no; write \"is\": true or false" },
        { "alarms.rules[3]", "{ \"name\": \"x\", \"on\": \"cycle\", \"cycle\": \"likely_cause\", \"is\": \"dull blade\" }", "error alarms.rules[3].is: 'dull blade' is never the likely cause of a saw's cut; did you mean 'dull_blade'?" },

        // Delays, counts, hours, states.
        { $"{R}.onDelay", "\"-1 s\"", $"error {R}.onDelay: '-1 s' is out of range; write 0 s to 24 h" },
        { $"{R}.onDelay", "30", $"error {R}.onDelay: 30 has no unit; write for example \"250 ms\" or \"5 s\"" },
        { "alarms.rules[2].cuts", "{ \"least\": 6, \"of\": 5 }", "error alarms.rules[2].cuts.least: 6 of 5 cuts can never meet it; write at most 5" },
        { "alarms.rules[2].cuts", "{ \"of\": 5 }", "error alarms.rules[2].cuts.least: is missing; write for example 2" },
        { "alarms.rules[2].cuts.clearAfter", "0", "error alarms.rules[2].cuts.clearAfter: 0 is out of range; write 1 to 100" },
        { $"{R}.while", "[]", $"error {R}.while: is empty; write states, for example [ \"cutting\" ], or leave it out: whatever the saw does" },
        { $"{R}.while[0]", "\"cuting\"", $"error {R}.while[0]: 'cuting' is not known; did you mean \"cutting\"?" },
        { $"{R}.hours", "[]", $"error {R}.hours: is empty; write for example [ {{ \"days\": [ \"mon\", \"tue\" ], \"from\": \"06:00\", \"to\": \"22:00\" }} ]" },
        { $"{R}.hours", "[ { \"days\": [ \"monday\" ] } ]", $"error {R}.hours[0].days[0]: 'monday' is not known; write \"mon\", \"tue\", \"wed\", \"thu\", \"fri\", \"sat\" or \"sun\"" },
        { $"{R}.hours", "[ { \"from\": \"6:00\" } ]", $"error {R}.hours[0].from: '6:00' is no time of day; write for example \"06:00\" or \"22:30\"" },
        { $"{R}.hours", "[ { \"to\": \"25:00\" } ]", $"error {R}.hours[0].to: '25:00' is no time of day; write for example \"06:00\" or \"22:30\"" },
        { $"{R}.severity", "\"urgent\"", $"error {R}.severity: 'urgent' is not known; write \"low\", \"medium\" or \"high\"" },
        { $"{R}.silences", "\"yes\"", $"error {R}.silences: is a text; write true or false, without quotes" },
        { "alarms.rules[7].silences", "true", "error alarms.rules[7].silences: disk_free is about the gateway, behind which there is nothing whose alarms could be silenced; leave it out" },

        // Texts.
        { $"{R}.text", "\"{saw}: load {valeu}\"", $"error {R}.text: {{valeu}} is not known here; did you mean 'value'?" },
        { $"{R}.text", "\"{evidence}\"", $"error {R}.text: {{evidence}} is not known here; known here: rule, subject, saw, value, limit, severity, head_position, motor_load, blade_speed, cycle_active, cutting, blade_running, fault_code, mode, job, part_count, bar_id, blade_id, blade_deviation, scrap_count" },
        { $"{R}.text", "\"load {value\"", $"error {R}.text: has a {{ at character 6 that is not closed; write {{{{ for a brace" },
        { $"{R}.text", "\"load value}\"", $"error {R}.text: has a }} at character 11 that closes nothing; write }}}} for a brace" },
        { $"{R}.text", "\"{}\"", $"error {R}.text: has no name between the braces at character 1; write for example {{value}}, or {{{{ for a brace" },
        { "alarms.rules[7].text", "\"{saw}\"", "error alarms.rules[7].text: {saw} is not known here; known here: rule, subject, value, limit, severity, trouble" },
        { $"{R}.caution", "true", $"error {R}.caution: is true; write the words, leave it out for the usual ones, or write false for none" },
        { $"{R}.caution", "\"\"", $"error {R}.caution: is empty; write a text, for example \"Hot surfaces: let the motor cool down before touching it.\"" },

        // What a rule holds for.
        { $"{R}.saws", "[ \"saw-3\" ]", $"error {R}.saws[0]: there is no saw 'saw-3'; did you mean 'saw-1'?" },
        { $"{R}.saws", "[]", $"error {R}.saws: is empty; write names, for example [ \"saw-1\" ], or leave it out: all" },
        { $"{R}.groups", "[ \"bay 2\" ]", $"error {R}.groups[0]: there is no group 'bay 2'; known here: bay-1" },
        { $"{R}.signal", "\"blade_deviation\"", $"error {R}.above: '7 kW' is no length; write for example 100 mm or 4 in\nerror {R}.deadband: '500 W' is no length; write for example 100 mm or 4 in\nerror {R}.signal: can never raise an alarm: no saw that the rule holds for maps blade_deviation; map it at the saw, or leave the rule out" },
        { "alarms.rules[4].names", "[ \"x\" ]", "error alarms.rules[4].names: belongs to on \"communication\"; here on is \"blade\"" },
        { "alarms.rules[6].saws", "[ \"saw-1\" ]", "error alarms.rules[6].saws: disconnected is about a device or broker; write \"names\"" },
        { "alarms.rules[6].names", "[ \"plcc\" ]", "error alarms.rules[6].names[0]: there is no device or broker 'plcc'; did you mean 'plc'?" },
        { "alarms.rules[7].groups", "[ \"bay-1\" ]", "error alarms.rules[7].groups: disk_free is about the gateway; leave it out" },
        { "alarms.rules[7].names", "[ \"hall-2\" ]", "error alarms.rules[7].names: disk_free is about the gateway, of which there is one; leave it out" },
        { "alarms.rules[7]", "{ \"name\": \"x\", \"on\": \"gateway\", \"gateway\": \"delivery_trouble\", \"names\": [ \"tow\" ] }", "error alarms.rules[7].names[0]: there is no destination 'tow'; did you mean 'two'?" },
        { "alarms.rules[7]", "{ \"name\": \"x\", \"on\": \"gateway\", \"gateway\": \"channel_trouble\", \"names\": [ \"mial\" ] }", "error alarms.rules[7].names[0]: there is no channel 'mial'; did you mean 'mail'?" },
        { "alarms.rules[7]", "{ \"name\": \"x\", \"on\": \"gateway\", \"gateway\": \"frames_lost\", \"above\": 0, \"names\": [ \"saw-1\" ] }", "error alarms.rules[7].names: frames_lost is about a saw; write \"saws\" or \"groups\"" },
        { "alarms.rules[1].name", "\"motor hot\"", "error alarms.rules[1].name: 'motor hot' is the name of alarms.rules[0] already; give each rule its own name" },
        { "alarms.rules[1].name", "\"Motor Hot\"", "error alarms.rules[1].name: 'Motor Hot' differs only in capitals from the name of alarms.rules[0] already; give each rule its own name" },
        { "alarms.rules[1].name", "\"Stall\"", "error alarms.rules[1].name: 'Stall' differs only in capitals from the program's own rule 'stall'; write that name to take its place, or another" },
        { "alarms.withoutRules", "[ \"blade_deu\" ]", "error alarms.withoutRules[0]: the program has no rule 'blade_deu' of its own; did you mean 'blade_due'?" },

        // Contacts.
        { "alarms.contacts[0].channel", null, "error alarms.contacts[0].channel: is missing; write for example \"maintenance-mail\"" },
        { "alarms.contacts[0].channel", "\"mall\"", "error alarms.contacts[0].channel: there is no channel 'mall'; did you mean 'mail'?\nwarning alarms.channels[0].name: no contact uses 'mail'" },
        { "alarms.contacts[0].to", null, "error alarms.contacts[0].to: is missing; an e-mail needs addresses, for example [ \"maintenance@riverbend.example\" ]" },
        { "alarms.contacts[0].to[0]", "\"Maintenance <m@riverbend.example>\"", "error alarms.contacts[0].to[0]: 'Maintenance <m@riverbend.example>' is no mail address; write the address alone, for example \"maintenance@riverbend.example\"" },
        { "alarms.contacts[0].to[0]", "\"m@riverbend.example\\r\\nBcc: all@riverbend.example\"", "error alarms.contacts[0].to[0]: holds a line end or another control character; leave it out" },
        { "alarms.contacts[0].to[0]", "\"m@riverbend.example,n@riverbend.example\"", "error alarms.contacts[0].to[0]: 'm@riverbend.example,n@riverbend.example' is no mail address; write the address alone, for example \"maintenance@riverbend.example\"" },
        { "alarms.contacts[1].to", "[ \"lead@riverbend.example\" ]", "error alarms.contacts[1].to: addresses belong to e-mail, and 'hook' is a webhook; leave them out" },
        { "alarms.contacts[1].channel", "\"states\"", "error alarms.contacts[1].channel: 'states' tells the state of every alarm over MQTT, whoever reads it; a contact needs a channel for e-mail or a webhook\nwarning alarms.channels[1].name: no contact uses 'hook'" },
        { "alarms.contacts[1].name", "\"maintenance\"", "error alarms.contacts[0].escalateTo: there is no contact 'lead'; describe it under \"contacts\"\nerror alarms.contacts[1].name: 'maintenance' is the name of alarms.contacts[0] already; give each contact its own name" },
        { "alarms.contacts[0].rules", "[ \"motor_hot\" ]", "error alarms.contacts[0].rules[0]: there is no rule in force 'motor_hot'; did you mean 'motor hot'?" },
        { "alarms.contacts[0].rules", "[ \"stal\" ]", "error alarms.contacts[0].rules[0]: there is no rule in force 'stal'; did you mean 'stall'?" },
        { "alarms.contacts[0].saws", "[ \"saw-9\" ]", "error alarms.contacts[0].saws[0]: there is no saw 'saw-9'; did you mean 'saw-1'?" },
        { "alarms.contacts[0].escalateTo", "\"led\"", "error alarms.contacts[0].escalateTo: there is no contact 'led'; did you mean 'lead'?\nwarning alarms.contacts[1].onlyEscalated: no contact names this one in \"escalateTo\", so it is never told anything" },
        { "alarms.contacts[0].escalateTo", "\"maintenance\"", "error alarms.contacts[0].escalateTo: names the contact itself; name another\nwarning alarms.contacts[1].onlyEscalated: no contact names this one in \"escalateTo\", so it is never told anything" },
        { "alarms.contacts[0].escalateTo", null, "error alarms.contacts[0].escalateAfter: says when, but nobody is named who is told then; write \"escalateTo\" as well\nwarning alarms.contacts[1].onlyEscalated: no contact names this one in \"escalateTo\", so it is never told anything" },
        { "alarms.contacts[0].escalateAfter", null, "error alarms.contacts[0].escalateTo: says who, but not when; write \"escalateAfter\" as well, for example \"30 min\"" },
        { "alarms.contacts[0].remindEvery", "\"10 s\"", "error alarms.contacts[0].remindEvery: '10 s' is out of range; write 1 min to 720 h" },
        { "alarms.contacts[0].least", "\"lowest\"", "error alarms.contacts[0].least: 'lowest' is not known; write \"low\", \"medium\" or \"high\"" },

        // Channels.
        { "alarms.channels[0].kind", "\"mail\"", "error alarms.channels[0].kind: 'mail' is not known; write \"webhook\", \"email\" or \"mqtt\"" },
        { "alarms.channels[0].name", "\"hook\"", "error alarms.contacts[0].channel: there is no channel 'mail'; known here: hook, states\nerror alarms.channels[1].name: 'hook' is the name of alarms.channels[0] already; give each channel its own name" },
        { "alarms.channels[2].name", "\"Two\"", "error alarms.channels[2].name: 'Two' differs only in capitals from the name of influx[0] already; give each channel its own name" },
        { "alarms.channels[2].broker", "\"hal\"", "error alarms.channels[2].broker: there is no broker 'hal'; did you mean 'hall'?" },
        { "alarms.channels[2].root", "\"saws/#\"", "error alarms.channels[2].root: 'saws/#' holds a + or #, which stand for other topics; leave them out" },
        { "alarms.channels[2].root", "\"saws/\"", "error alarms.channels[2].root: 'saws/' has an empty level; leave the / at its ends out" },
        { "alarms.channels[0].host", "\"mail.riverbend.example:587\"", "error alarms.channels[0].host: 'mail.riverbend.example:587' holds a port; write the host alone and the port in \"port\"" },
        { "alarms.channels[0].security", "\"ssl\"", "error alarms.channels[0].security: 'ssl' is not known; write \"starttls\", \"tls\" or \"none\"" },
        { "alarms.channels[0].from", "\"SawEdge\"", "error alarms.channels[0].from: 'SawEdge' is no mail address; write the address alone, for example \"maintenance@riverbend.example\"" },
        { "alarms.channels[0].password", "\"p\"", "error alarms.channels[0].password: a password needs a user; write \"user\" as well" },
        { "alarms.channels[0].user", "\"u\"", "error alarms.channels[0].password: is missing; a user needs a password or passwordFile" },
        { "alarms.channels[0].authorityFile", "\"/nowhere/ca.pem\"", "error alarms.channels[0].authorityFile: there is no file /nowhere/ca.pem" },
        { "alarms.channels[0].url", "\"https://x\"", "error alarms.channels[0].url: belongs to kind \"webhook\"; here kind is \"email\"" },
        { "alarms.channels[1].url", null, "error alarms.channels[1].url: is missing; write for example \"https://hooks.riverbend.example/saws\"" },
        { "alarms.channels[1].url", "\"ftp://hooks\"", "error alarms.channels[1].url: is no address that begins with http:// or https:// and names a host; write for example \"https://hooks.riverbend.example/saws\"" },
        { "alarms.channels[1].url", "\"https://u:p@hooks.example\"", "error alarms.channels[1].url: holds an @; leave user and password out of the address and use \"token\"" },
        { "alarms.channels[1].url", "\"https://hooks.example/#a\"", "error alarms.channels[1].url: holds a #; what stands behind it is never sent, so leave it out" },
        { "alarms.channels[1].body", "\"{{\\\"text\\\": {text}\"", "error alarms.channels[1].body: is no JSON with a string in place of each name: Expected depth to be zero at the end of the JSON payload. There is an open JSON object or array that should be closed." },
        { "alarms.channels[1]", "{ \"name\": \"hook\", \"kind\": \"webhook\", \"url\": \"https://x.example\", \"secret\": \"whsec_not-base64\" }", "error alarms.channels[1].secret: begins with whsec_ but what follows is no base64; copy the whole secret from the receiver" },
        { "alarms.channels[1].body", "\"{\\\"text\\\": {text}}\"", "error alarms.channels[1].body: has no name between the braces at character 1; write for example {value}, or {{ for a brace" },
        { "alarms.channels[1].body", "\"{{\\\"text\\\": {txt}}}\"", "error alarms.channels[1].body: {txt} is not known here; did you mean 'text'?" },
        { "alarms.channels[1].giveUpAfter", "\"1 s\"", "error alarms.channels[1].giveUpAfter: '1 s' is out of range; write 1 min to 720 h" },

        // Links.
        { "alarms.answerLinks", "{ \"listen\": \"http://0.0.0.0:8087\" }", "error alarms.answerLinks.public: is missing; write for example \"http://127.0.0.1:8086\"" },
        { "alarms.answerLinks", "{ \"listen\": \"https://0.0.0.0:8087\", \"public\": \"https://saws.riverbend.example\" }", "error alarms.answerLinks.listen: links of their own are served without TLS; write http:// and put a server with TLS in front of it, whose address is \"public\", or leave it out: http can have a certificate" },
        { "alarms.answerLinks", "{ \"listen\": \"http://0.0.0.0:8087\", \"public\": \"https://saws.riverbend.example\", \"validFor\": \"1 s\" }", "error alarms.answerLinks.validFor: '1 s' is out of range; write 5 min to 720 h" },
    };

    public static TheoryData<string, string?, string> Doubtful => new()
    {
        { "alarms.contacts[0].remindEvery", "\"2 min\"", "warning alarms.contacts[0].remindEvery: '2 min' is unusual (10 min to 720 h is common); is the unit right?" },
        { "alarms.contacts[0].digest", "\"1 h\"", "warning alarms.contacts[0].escalateAfter: is over before the digest is sent, so the other is told first; write more than \"digest\"" },
        { "alarms.channels[3]", "{ \"name\": \"again\", \"kind\": \"mqtt\", \"broker\": \"hall\" }", "warning alarms.channels[3]: tells the same as alarms.channels[2], below the same topic; give it another \"root\", or leave it out" },
        { "alarms.channels[3]", "{ \"name\": \"spare\", \"kind\": \"webhook\", \"url\": \"https://x.example\" }", "warning alarms.channels[3].name: no contact uses 'spare'" },
        { "alarms.channels[1]", "{ \"name\": \"hook\", \"kind\": \"webhook\", \"url\": \"http://x.example\", \"token\": \"t\" }", "warning alarms.channels[1].url: the secret crosses the network in the clear; write https:// where the server offers it" },
        { "alarms.channels[1]", "{ \"name\": \"hook\", \"kind\": \"webhook\", \"url\": \"http://x.example\", \"secret\": \"t\" }", "warning alarms.channels[1].url: messages cross the network in the clear: the signature shows that they were not changed, but everybody can read them; write https:// where the server offers it" },
        { "alarms.answerLinks", "{ \"listen\": \"http://0.0.0.0:8087\", \"public\": \"http://saws.riverbend.example\" }", "warning alarms.answerLinks.public: links cross the network in the clear, and whoever reads one can use it; put a server with TLS in front and write https://" },
        { "alarms.rules[1]", "{ \"name\": \"x\", \"on\": \"finding\", \"finding\": \"overload\", \"saws\": [ \"saw-1\", \"saw-2\" ] }", "warning alarms.rules[1].saws[1]: can never raise this alarm: saw-2 is no saw that states machine.maximumLoad or machine.ratedPower; write it at the saw, or leave the name out" },
        { "alarms.rules[0]", "{ \"name\": \"x\", \"on\": \"signal\", \"signal\": \"part_count\", \"above\": 1000, \"saws\": [ \"saw-2\", \"saw-1\" ] }", "warning alarms.rules[0].saws[0]: can never raise this alarm: saw-2 is no saw that maps part_count; map it at the saw, or leave the name out" },
    };

    [Theory]
    [MemberData(nameof(Wrong))]
    public void Load_OneMistake_IsReportedWithItsPathAndNothingElse(string path, string? json, string expected)
    {
        var loaded = Sample.Load(AlarmSample.With((path, json)));
        Assert.Null(loaded.Options);
        Assert.Equal(expected.Split('\n').Order(StringComparer.Ordinal), loaded.Lines().Order(StringComparer.Ordinal));
    }

    [Theory]
    [MemberData(nameof(Doubtful))]
    public void Load_OneDoubt_IsAWarningAndTheGatewayStarts(string path, string? json, string expected)
    {
        var loaded = Sample.Load(AlarmSample.With((path, json)));
        Assert.NotNull(loaded.Options);
        Assert.Equal([expected], loaded.Lines());
    }

    [Fact]
    public void Load_NoMistake_FindsNothing() => Assert.Empty(Sample.Load(AlarmSample.With()).Findings);

    [Fact]
    public void Load_AnEscalationInACircle_IsToldOnceForIt()
    {
        var third = """{ "name": "third", "channel": "hook", "escalateAfter": "1 h", "escalateTo": "maintenance" }""";
        var loaded = Sample.Load(AlarmSample.With(("alarms.contacts[1].escalateAfter", "\"1 h\""), ("alarms.contacts[1].escalateTo", "\"third\""), ("alarms.contacts[2]", third)));
        Assert.Equal(["error alarms.contacts[0].escalateTo: goes round in a circle: maintenance, lead, third, maintenance; end it somewhere"], loaded.Lines());
    }

    [Fact]
    public void Load_AContactBeforeACircle_IsNotBlamedForIt()
    {
        var third = """{ "name": "third", "channel": "hook", "escalateAfter": "1 h", "escalateTo": "lead" }""";
        var loaded = Sample.Load(AlarmSample.With(("alarms.contacts[1].escalateAfter", "\"1 h\""), ("alarms.contacts[1].escalateTo", "\"third\""), ("alarms.contacts[2]", third)));
        Assert.Equal(["error alarms.contacts[1].escalateTo: goes round in a circle: lead, third, lead; end it somewhere"], loaded.Lines());
    }

    [Fact]
    public void Load_ALimitBeyondWhatEverySawBelieves_IsAnError()
    {
        (string, string?)[] maximum = [("saws[0].signals.motor_load.maximum", "\"7 kW\""), ("saws[1].signals.motor_load.maximum", "\"6 kW\"")];
        Assert.Equal(
            ["error alarms.rules[0].signal: can never raise an alarm: no saw that the rule holds for believes motor_load above 7 kW; its \"maximum\" is 7 kW, so write a lower limit, a higher maximum, or leave the rule out"],
            Sample.Load(AlarmSample.With(maximum)).Lines());
        // One saw that believes it is enough.
        Assert.Empty(Sample.Load(AlarmSample.With(maximum[1])).Findings);
        Assert.Equal(
            ["error alarms.rules[0].signal: can never raise an alarm: no saw that the rule holds for believes head_position below -4 mm; its \"minimum\" is 0 mm, so write a higher limit, a lower minimum, or leave the rule out"],
            Sample.Load(AlarmSample.With(
                ("saws[0].signals.head_position.minimum", "\"0 mm\""),
                ("alarms.rules[0]", "{ \"name\": \"x\", \"on\": \"signal\", \"signal\": \"head_position\", \"below\": \"-4 mm\", \"saws\": [ \"saw-1\" ] }"))).Lines());
    }

    [Theory]
    [InlineData("stall", "head_position")]
    [InlineData("blade_gone", "head_position")]
    [InlineData("overload", "motor_load")]
    public void Load_AFindingThatNoSawCanHave_IsAnError(string finding, string signal)
    {
        // Without the signal there are doubts about the saws themselves, which are told as before.
        var loaded = Sample.Load(AlarmSample.With(
            ($"saws[0].signals.{signal}", null),
            ($"saws[1].signals.{signal}", null),
            ("alarms.rules", $"[ {{ \"name\": \"x\", \"on\": \"finding\", \"finding\": \"{finding}\" }} ]")));
        Assert.Equal([$"alarms.rules[0].finding: can never raise an alarm: no saw that the rule holds for maps {signal}; map it at the saw, or leave the rule out"], loaded.Errors.Select(error => $"{error.Path}: {error.Message}"));
    }

    [Fact]
    public void Load_ABrokerThatOnlyAChannelUses_IsNoDoubt()
    {
        (string, string?) spare = ("brokers[1]", "{ \"name\": \"spare\", \"host\": \"other.example\" }");
        Assert.Equal(["warning brokers[1].name: no saw uses 'spare'"], Sample.Load(AlarmSample.With(spare)).Lines());
        Assert.Empty(Sample.Load(AlarmSample.With(spare, ("alarms.channels[2].broker", "\"spare\""))).Lines());
    }

    [Fact]
    public void Load_GroupsWhereNoSawBelongsToOne_SaysWhereToWriteThem()
    {
        var loaded = Sample.Load(AlarmSample.With(("saws[0].group", null), ("alarms.rules[0].groups", "[ \"bay-1\" ]")));
        Assert.Equal(["error alarms.rules[0].groups: no saw belongs to a group; write \"group\" at the saws, or name them in \"saws\""], loaded.Lines());
    }

    [Fact]
    public void Load_ARuleBothWrittenAndSwitchedOff_IsAnError()
    {
        var loaded = Sample.Load(AlarmSample.With(("alarms.rules[1].name", "\"stall\""), ("alarms.withoutRules", "[ \"stall\" ]")));
        Assert.Equal(["error alarms.withoutRules[0]: \"rules\" holds a rule 'stall' that takes its place; leave the name out here, or the rule there"], loaded.Lines());
    }

    [Fact]
    public void Load_APasswordToAMailServerInTheClear_IsAnErrorUnlessItIsThisMachine()
    {
        (string, string?)[] open = [("alarms.channels[0].security", "\"none\""), ("alarms.channels[0].user", "\"u\""), ("alarms.channels[0].password", "\"p\"")];
        Assert.Equal(
            ["error alarms.channels[0].security: the password would cross the network in the clear; write \"starttls\" or \"tls\""],
            Sample.Load(AlarmSample.With(open)).Lines());
        foreach (var host in new[] { "localhost", "127.0.0.1", "::1" })
            Assert.Empty(Sample.Load(AlarmSample.With([.. open, ("alarms.channels[0].host", $"\"{host}\"")])).Findings);
    }

    [Fact]
    public void Load_AnAuthorityForAMailServerInTheClear_IsAnError()
    {
        var loaded = Sample.Load(AlarmSample.With(("alarms.channels[0].security", "\"none\""), ("alarms.channels[0].authorityFile", "\"sawedge.json\"")));
        Assert.Equal(["error alarms.channels[0].authorityFile: there is no certificate to check where security is \"none\"; leave it out, or write \"starttls\" or \"tls\""], loaded.Lines());
    }

    [Fact]
    public void Load_AReminderWithinItsDigest_IsDoubted()
    {
        var loaded = Sample.Load(AlarmSample.With(("alarms.contacts[1].digest", "\"1 h\""), ("alarms.contacts[1].remindEvery", "\"30 min\"")));
        Assert.Equal(["warning alarms.contacts[1].remindEvery: is shorter than \"digest\", so that reminders fall due before the message is sent; write more"], loaded.Lines());
    }
}
