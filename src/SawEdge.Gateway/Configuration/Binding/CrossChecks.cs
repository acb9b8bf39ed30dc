using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>
/// What only shows when the parts are seen together. Parts with mistakes of their own may be null or hold defaults here;
/// they are left out, so that one mistake does not cause a second finding.
/// </summary>
internal static class CrossChecks
{
    /// <summary>Runs all of them.</summary>
    /// <param name="options">The configuration, its alarms aside.</param>
    /// <param name="channelBrokers">The brokers that are used otherwise than by saws: by channels of the alarms, and by two gateways that watch in turns.</param>
    /// <param name="findings">Where mistakes go.</param>
    public static void Run(GatewayOptions options, IReadOnlySet<string> channelBrokers, Findings findings)
    {
        Unique(findings, "devices", options.ModbusDevices, device => device.Name, "device");
        Unique(findings, "brokers", options.MqttBrokers, broker => broker.Name, "broker");
        NamesOfSources(findings, options);
        Unique(findings, "saws", options.Saws, saw => saw.Name, "saw");
        Unique(findings, "influx", options.Influx, destination => destination.Name, "destination");
        Unique(findings, "dailyFiles", options.DailyFiles, files => files.Name, "entry");

        var devices = options.ModbusDevices.Where(device => device is not null).Select(device => device.Name).ToList();
        var brokers = options.MqttBrokers.Where(broker => broker is not null).Select(broker => broker.Name).ToList();
        Refers<ModbusSourceOptions>(findings, options, "device", devices, source => source.Device);
        Refers<MqttSourceOptions>(findings, options, "broker", brokers, source => source.Broker);
        Unused<ModbusSourceOptions>(findings, options, "devices", devices, source => source.Device, new HashSet<string>());
        Refers<SparkplugSourceOptions>(findings, options, "broker", brokers, source => source.Broker);
        Unused<MqttSourceOptions>(findings, options, "brokers", brokers, source => source.Broker, channelBrokers.Union(SparkplugChecks.BrokersOf(options)).ToHashSet());

        SameAddress(findings, "devices", options.ModbusDevices, device => device is ModbusTcpDeviceOptions { Host: not null, Port: > 0 } ? device.Endpoint : null, "one connection serves all units behind an address; give both saws the same device");
        SameAddress(findings, "influx", options.Influx, server => server.Url is null || string.IsNullOrEmpty(server.Bucket) ? null : $"{server.Url} {server.Bucket}", "everything would be written there twice");
        LineChecks.Run(findings, options);
        SameFolder(findings, options);
        ClientIdentifiers(findings, options);
        RegisterOverlaps.Check(findings, options);
        SameTopic(findings, options);
        KeptMessages(findings, options);
        SparkplugChecks.Run(findings, options);
        SameBlade(findings, options);
    }

    private static void Unique<T>(Findings findings, string list, IReadOnlyList<T> items, Func<T, string?> nameOf, string what)
    {
        var first = new Dictionary<string, int>(StringComparer.OrdinalIgnoreCase);
        for (var i = 0; i < items.Count; i++)
        {
            if (items[i] is null || nameOf(items[i]) is not { Length: > 0 } name)
                continue;
            if (first.TryAdd(name, i))
                continue;
            var same = nameOf(items[first[name]]) == name ? "is the name of" : "differs only in capitals from the name of";
            findings.Error($"{list}[{i}].name", $"{Words.Quoted(name)} {same} {list}[{first[name]}] already; give each {what} its own name");
        }
    }

    // Alarms speak of a source by its name alone.
    private static void NamesOfSources(Findings findings, GatewayOptions options)
    {
        for (var i = 0; i < options.MqttBrokers.Count; i++)
        {
            var name = options.MqttBrokers[i]?.Name;
            var device = string.IsNullOrEmpty(name) ? -1 : options.ModbusDevices.ToList().FindIndex(one => string.Equals(one?.Name, name, StringComparison.OrdinalIgnoreCase));
            if (device >= 0)
                findings.Error($"brokers[{i}].name", $"{Words.Quoted(name!)} is the name of devices[{device}] already, and alarms tell a source by its name; give one of the two another");
        }
    }

    private static void Refers<TSource>(Findings findings, GatewayOptions options, string member, List<string> known, Func<TSource, string?> nameOf)
        where TSource : SourceOptions
    {
        for (var i = 0; i < options.Saws.Count; i++)
        {
            if (options.Saws[i]?.Source is not TSource source || nameOf(source) is not { } name || known.Contains(name))
                continue;
            var names = known.Where(candidate => candidate is not null).ToList();
            findings.Error($"saws[{i}].{member}", $"there is no {member} {Words.Quoted(name)}; {(names.Count == 0 ? $"describe it under \"{member}s\"" : Words.DidYouMean(name, names))}");
        }
    }

    private static void Unused<TSource>(Findings findings, GatewayOptions options, string list, List<string> names, Func<TSource, string?> nameOf, HashSet<string> others)
        where TSource : SourceOptions
    {
        // Where a saw could not be read at all, nothing can be said about what it would have used.
        if (options.Saws.Count == 0 || options.Saws.Any(saw => saw?.Source is null || (saw.Source is TSource source && (nameOf(source) is not { } name || !names.Contains(name)))))
            return;
        var used = options.Saws.Select(saw => saw.Source).OfType<TSource>().Select(nameOf).ToHashSet();
        for (var i = 0; i < names.Count; i++)
        {
            if (names[i] is not null && !used.Contains(names[i]) && !others.Contains(names[i]))
                findings.Warning($"{list}[{i}].name", $"no saw uses {Words.Quoted(names[i])}");
        }
    }

    private static void SameAddress<T>(Findings findings, string list, IReadOnlyList<T> items, Func<T, string?> addressOf, string advice)
    {
        var first = new Dictionary<string, int>(StringComparer.OrdinalIgnoreCase);
        for (var i = 0; i < items.Count; i++)
        {
            if (items[i] is not null && addressOf(items[i]) is { } address && !first.TryAdd(address, i))
                findings.Warning($"{list}[{i}]", $"has the same address as {list}[{first[address]}]; {advice}");
        }
    }

    // Each keeps a list of what is in its folder, and takes what another writes there for its own.
    private static void SameFolder(Findings findings, GatewayOptions options)
    {
        var taken = new Dictionary<string, string>(StringComparer.Ordinal);
        taken.TryAdd(Path.TrimEndingDirectorySeparator(options.DataFolder ?? ""), "dataFolder");
        if (options.Record is { Folder.Length: > 0 } record)
            taken.TryAdd(Path.TrimEndingDirectorySeparator(record.Folder), "record");
        for (var i = 0; i < options.DailyFiles.Count; i++)
        {
            if (options.DailyFiles[i] is { Folder.Length: > 0 } files && !taken.TryAdd(Path.TrimEndingDirectorySeparator(files.Folder), $"dailyFiles[{i}]"))
                findings.Error($"dailyFiles[{i}].folder", $"is that of {taken[Path.TrimEndingDirectorySeparator(files.Folder)]} already; give these files a folder of their own");
        }
    }

    private static void ClientIdentifiers(Findings findings, GatewayOptions options)
    {
        // MQTT 3.1.1 and 5.0, [MQTT-3.1.4-2] and [MQTT-3.1.4-3]: a second client with the same identifier throws the first one out.
        var first = new Dictionary<string, int>(StringComparer.Ordinal);
        for (var i = 0; i < options.MqttBrokers.Count; i++)
        {
            if (options.MqttBrokers[i] is { Host: not null, ClientId: not null } broker && !first.TryAdd($"{broker.Host}:{broker.Port} {broker.ClientId}", i))
                findings.Error($"brokers[{i}].clientId", $"{Words.Quoted(broker.ClientId)} is used at this broker by brokers[{first[$"{broker.Host}:{broker.Port} {broker.ClientId}"]}] already, and each would throw the other out; give each its own clientId");
        }
    }

    /// <summary>A message that was kept while the gateway was away would be taken for what is now, unless it has a time of its own.</summary>
    private static void KeptMessages(Findings findings, GatewayOptions options)
    {
        for (var i = 0; i < options.MqttBrokers.Count; i++)
        {
            if (options.MqttBrokers[i] is not { KeepSession: true, Name: { } name })
                continue;
            for (var j = 0; j < options.Saws.Count; j++)
            {
                if (options.Saws[j]?.Source is not MqttSourceOptions source || source.Broker != name)
                    continue;
                if (source.TimeMember is null)
                    findings.Error($"brokers[{i}].keepSession", $"saws[{j}] has no timeMember, so what the broker kept would be taken for what is now; write timeMember there, or leave keepSession out");
                else if (source.Signals.FirstOrDefault(mapping => mapping.Topic is not null) is { } own)
                    findings.Error($"brokers[{i}].keepSession", $"{SignalInfo.Of(own.Signal).Name} of saws[{j}] has a topic of its own and so no time; make it a member of the payload, or leave keepSession out");
            }
        }
    }

    private static void SameBlade(Findings findings, GatewayOptions options)
    {
        var first = new Dictionary<string, int>(StringComparer.Ordinal);
        for (var i = 0; i < options.Saws.Count; i++)
        {
            if (options.Saws[i]?.Blade is { } blade && !first.TryAdd(blade, i))
                findings.Warning($"saws[{i}].blade", $"{Words.Quoted(blade)} is the blade of saws[{first[blade]}] already; a blade is on one saw at a time, so its life would be counted wrong");
        }
    }

    private static void SameTopic(Findings findings, GatewayOptions options)
    {
        var first = new Dictionary<(string, string?, string?, Signal), string>();
        for (var i = 0; i < options.Saws.Count; i++)
        {
            if (options.Saws[i]?.Source is not MqttSourceOptions { Broker: not null } source)
                continue;
            foreach (var mapping in source.Signals)
            {
                var path = $"saws[{i}].signals.{SignalInfo.Of(mapping.Signal).Name}";
                if (!first.TryAdd((source.Broker, mapping.Topic ?? source.FrameTopic, mapping.Member, mapping.Signal), path))
                    findings.Warning(path, $"comes from the same place as {first[(source.Broker, mapping.Topic ?? source.FrameTopic, mapping.Member, mapping.Signal)]}; is the topic right?");
            }
        }
    }
}
