using System.Globalization;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;

namespace SawEdge.Gateway.Commands.FirstRun;

/// <summary>The configuration to begin with: what was answered, and in remarks what comes next.</summary>
/// <param name="answers">What was answered.</param>
internal sealed class InitTemplate(InitAnswers answers)
{
    /// <summary>File name of the job list beside the configuration.</summary>
    public const string JobsFile = "jobs.csv";

    private static readonly JsonSerializerOptions Plain = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    private readonly StringBuilder _text = new();

    private bool IsModbus => answers.Source == "modbus";

    /// <summary>What to do with the file.</summary>
    public static IReadOnlyList<string> NextSteps(InitAnswers answers, string file) =>
    [
        answers.Source == "modbus"
            ? $"1. Put the addresses of the controller's register list into the signals of {answers.Saws[0]} in {file}."
            : $"1. Put the topic and the members of the payload into {file} as {answers.Saws[0]} publishes them.",
        $"2. sawedge check {file}",
        $"3. sawedge watch {answers.Saws[0]} --config {file}     (run one cut: contact, end and part counter must come when they should)",
        $"4. sawedge run {file}",
    ];

    /// <summary>Writes it.</summary>
    public string Write()
    {
        Line("// Written by 'sawedge init'. What may stand here: 'sawedge schema --for people', or an editor with the schema.");
        Line("// SawEdge only reads; nothing here makes a saw move. It is no safety device: lock out and tag out before reaching the blade.");
        Line("{");
        Line($"  \"site\": {Json(answers.Site)},");
        Line($"  \"gateway\": {Json(answers.Gateway)},");
        Line($"  \"timeZone\": {Json(answers.TimeZone)},");
        Line($"  \"units\": {Json(answers.Units)},");
        Line("  // Relative paths start at the folder of this file.");
        Line($"  \"dataFolder\": {Json(answers.Data)},");
        Line("  // One line a job. Without it cut times are measured, but not compared with a standard.");
        Line($"  \"jobsFile\": {Json(JobsFile)},");
        Line("");
        WriteConnections();
        Line("");
        Line("  \"saws\": [");
        for (var i = 0; i < answers.Saws.Count; i++)
            WriteSaw(i);
        Line("  ],");
        Line("");
        WriteInflux();
        Line("");
        Line("  // When the plant means to work, by the clock of its time zone: what availability and OEE are a share of.");
        Line("  // \"calendar\": { \"shifts\": [ { \"name\": \"early\", \"days\": [\"mon\", \"tue\", \"wed\", \"thu\", \"fri\"], \"from\": \"06:00\", \"to\": \"14:00\" } ] },");
        Line("");
        Line("  // Who is told of alarms; the program's own rules hold without it.");
        Line("  // \"alarms\": {");
        Line("  //   \"channels\": [ { \"name\": \"mail\", \"kind\": \"email\", \"host\": \"mail.plant.example\", \"from\": \"saws@plant.example\" } ],");
        Line("  //   \"contacts\": [ { \"name\": \"maintenance\", \"channel\": \"mail\", \"to\": [\"maintenance@plant.example\"] } ],");
        Line("  // },");
        Line("");
        Line("  // The page and the API, for this machine alone.");
        Line("  \"http\": { \"listen\": \"http://127.0.0.1:8080\" },");
        Line("}");
        return _text.ToString();
    }

    private void WriteConnections()
    {
        if (!IsModbus)
        {
            var (host, port) = Split(answers.Addresses[0]);
            Line("  \"brokers\": [");
            Line($"    {{ \"name\": \"broker\", \"host\": {Json(host)}{(port is null ? "" : $", \"port\": {port}")} }},");
            Line("  ],");
            return;
        }

        Line("  \"devices\": [");
        for (var i = 0; i < answers.Addresses.Count; i++)
        {
            var (host, port) = Split(answers.Addresses[i]);
            Line($"    {{ \"name\": {Json(DeviceOf(i))}, \"host\": {Json(host)}, \"port\": {port ?? "502"} }},");
        }

        Line("  ],");
    }

    private void WriteSaw(int number)
    {
        Line("    {");
        Line($"      \"name\": {Json(answers.Saws[number])},");
        if (number > 0)
        {
            Line($"      \"like\": {Json(answers.Saws[0])},");
            if (IsModbus)
                Line(string.Create(CultureInfo.InvariantCulture, $"      \"device\": {Json(DeviceOf(number))},{(answers.Addresses.Count == 1 ? $" \"unit\": {number + 1}," : "")}"));
            Line("    },");
            return;
        }

        if (IsModbus)
            WriteModbus();
        else
            WriteMqtt();
        Line("    },");
    }

    private void WriteModbus()
    {
        Line("      \"source\": \"modbus\",");
        Line($"      \"device\": {Json(DeviceOf(0))},");
        Line("      \"unit\": 1,");
        Line("      \"interval\": \"250 ms\",");
        Line("      // From the type plate. With it loads have a scale, and cuts a time that the machine alone takes.");
        Line("      // \"machine\": { \"ratedPower\": \"5.5 kW\", \"bladeLength\": \"4.1 m\", \"restHeight\": \"400 mm\" },");
        Line("      \"signals\": {");
        Line("        // THE ADDRESSES ARE PLACEHOLDERS: take them from the controller's register list; 'sawedge scan' finds those that nobody has written down.");
        Line("        // Protocol addresses count from 0: \"holding 100\" is what many register lists print as 40101.");
        Line("        \"cycle_active\": { \"address\": \"holding 100\", \"bit\": 0 },");
        Line("        // \"cutting\": { \"address\": \"holding 100\", \"bit\": 1 },");
        Line("        \"motor_load\": { \"address\": \"holding 101\", \"type\": \"uint16\", \"unit\": \"0.01 kW\" },");
        Line("        \"head_position\": { \"address\": \"holding 102\", \"type\": \"uint16\", \"unit\": \"0.1 mm\" },");
        Line("        \"part_count\": { \"address\": \"holding 103\", \"type\": \"uint16\" },");
        Line("        // \"job\": { \"address\": \"holding 120\", \"type\": \"ascii\", \"registers\": 10 },");
        Line("      },");
    }

    private void WriteMqtt()
    {
        Line("      \"source\": \"mqtt\",");
        Line("      \"broker\": \"broker\",");
        Line("      // TOPIC AND MEMBERS ARE PLACEHOLDERS: write them as the saw publishes them. {saw} is its name.");
        Line("      // {\"load\": 2.31, \"head\": 184.2, \"cycle\": true, \"parts\": 118}");
        Line("      \"topic\": \"hall/{saw}/frame\",");
        Line("      \"interval\": \"1 s\",");
        Line("      // \"machine\": { \"ratedPower\": \"5.5 kW\", \"bladeLength\": \"4.1 m\", \"restHeight\": \"400 mm\" },");
        Line("      \"signals\": {");
        Line("        \"cycle_active\": { \"member\": \"cycle\" },");
        Line("        \"motor_load\": { \"member\": \"load\", \"unit\": \"kW\" },");
        Line("        \"head_position\": { \"member\": \"head\", \"unit\": \"mm\" },");
        Line("        \"part_count\": { \"member\": \"parts\" },");
        Line("        // \"cutting\": { \"member\": \"cutting\" },");
        Line("        // \"job\": { \"member\": \"job\" },");
        Line("      },");
    }

    private void WriteInflux()
    {
        var url = answers.Influx.Length > 0 ? answers.Influx : "http://127.0.0.1:8086";
        Line("  // The token stands in a file that only the gateway's account can read. Once it is there, take the strokes away.");
        Line("  // \"influx\": [");
        Line($"  //   {{ \"name\": \"plant\", \"url\": {Json(url)}, \"org\": \"plant\", \"bucket\": \"saws\", \"tokenFile\": \"influx.token\" }},");
        Line("  // ],");
    }

    private string DeviceOf(int saw) => answers.Addresses.Count == 1 ? "controller" : $"{answers.Saws[saw]}-controller";

    // "host", "host:port", "[2001:db8::1]:502"
    private static (string Host, string? Port) Split(string address)
    {
        var colon = address.LastIndexOf(':');
        var isPort = colon > 0 && (address.IndexOf(':') == colon || address[colon - 1] == ']') && int.TryParse(address[(colon + 1)..], NumberStyles.None, CultureInfo.InvariantCulture, out _);
        return isPort ? (address[..colon].Trim('[', ']'), address[(colon + 1)..]) : (address.Trim('[', ']'), null);
    }

    private static string Json(string text) => JsonSerializer.Serialize(text, Plain);

    private void Line(string text) => _text.Append(text).Append('\n');
}
