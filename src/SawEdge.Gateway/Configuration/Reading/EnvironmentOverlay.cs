using System.Globalization;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>
/// Lays environment variables over the file: <c>SAWEDGE_influx__0__token</c> sets <c>influx[0].token</c>. Names are found whatever
/// their capitals are, since some systems know no difference. An empty variable counts as not set.
/// </summary>
internal static class EnvironmentOverlay
{
    /// <summary>What the names of all variables begin with.</summary>
    public const string Prefix = "SAWEDGE_";

    /// <summary>Lays them over.</summary>
    public static void Apply(SourceNode root, TypeDescription type, IReadOnlyDictionary<string, string> environment, Findings findings)
    {
        var taken = new Dictionary<string, string>();
        var variables = environment
            .Where(variable => variable.Key.StartsWith(Prefix, StringComparison.OrdinalIgnoreCase) && variable.Value.Length > 0)
            .OrderBy(variable => variable.Key, Comparer<string>.Create(ByStep));
        foreach (var (variable, value) in variables)
        {
            var path = Set(root, type, variable, value, findings);
            if (path is not null && !taken.TryAdd(path, variable))
                findings.Add(new Finding(FindingSeverity.Error, path, $"is set by {taken[path]} as well; keep one of the two") { Variable = variable });
        }
    }

    private static string? Set(SourceNode root, TypeDescription type, string variable, string value, Findings findings)
    {
        var steps = variable[Prefix.Length..].Split("__");
        var node = root;
        IReadOnlyList<TypeDescription> types = [type];
        var path = "";
        for (var i = 0; i < steps.Length; i++)
        {
            // Types of the same member in different variants are all followed; which one holds is decided when the object is read.
            var (name, index, inner) = Step(node, types, steps[i]);
            if (inner.Count == 0)
            {
                Unknown(variable, path, steps[i], node, types, i == 0, findings);
                return null;
            }

            path = index is { } position ? Paths.Item(path, position) : Paths.Member(path, name);
            // What can be written as one value or as a list is set as either.
            types = [.. inner.SelectMany(candidate => candidate is EitherDescription either ? either.Ways : [candidate])];
            var isLast = i == steps.Length - 1;
            if (types.All(candidate => candidate is ScalarDescription == !isLast))
            {
                var message = isLast
                    ? $"is {(types[0] is ListDescription ? "a list" : "an object")}; name one value in it, for example {variable}{FirstBelow(types[0])}"
                    : "is a single value; nothing can be set below it";
                findings.Add(new Finding(FindingSeverity.Error, path, message) { Variable = variable });
                return null;
            }

            node = Enter(node, name, index, isLast ? SourceNode.Loose(value, variable) : null, [.. types.Where(candidate => candidate is ScalarDescription == isLast)], variable);
        }

        return path;
    }

    private static (string Name, int? Index, IReadOnlyList<TypeDescription> Inner) Step(SourceNode node, IReadOnlyList<TypeDescription> types, string step)
    {
        var inner = new List<TypeDescription>();
        var name = step;
        int? index = null;
        foreach (var type in types)
        {
            switch (type)
            {
                case ObjectDescription description:
                    foreach (var member in description.AllMembers.Where(member => string.Equals(member.Name, step, StringComparison.OrdinalIgnoreCase)))
                    {
                        name = member.Name;
                        inner.Add(member.Type);
                    }

                    break;
                case MapDescription map:
                    inner.Add(map.Item);
                    break;
                case ListDescription list when int.TryParse(step, NumberStyles.None, CultureInfo.InvariantCulture, out var number) && number <= node.Items.Count:
                    index = number;
                    inner.Add(list.Item);
                    break;
            }
        }

        return (name, index, inner);
    }

    private static SourceNode Enter(SourceNode node, string name, int? index, SourceNode? value, IReadOnlyList<TypeDescription> inner, string variable)
    {
        var existing = index is { } position ? (position < node.Items.Count ? node.Items[position] : null) : node.Find(name);
        var kind = inner[0] is ListDescription ? SourceKind.List : SourceKind.Object;
        if (value is null && existing?.Kind == kind)
            return existing;

        // What stands in the file in another form than the setting has is reported there, not replaced.
        if (value is null && existing is not null)
            return new SourceNode(kind, "", new SourcePlace(null, null, variable));
        var entered = value ?? new SourceNode(kind, "", new SourcePlace(null, null, variable));
        if (index is not { } at)
            node.Set(name, entered);
        else if (at < node.Items.Count)
            node.Items[at] = entered;
        else
            node.Items.Add(entered);
        return entered;
    }

    private static void Unknown(string variable, string path, string step, SourceNode node, IReadOnlyList<TypeDescription> types, bool isTop, Findings findings)
    {
        var names = types.OfType<ObjectDescription>().SelectMany(type => type.AllMembers).Select(member => member.Name).Distinct().ToList();
        var message = types.OfType<ListDescription>().Any()
            ? $"{Words.Quoted(step)} is no place in this list; write {(node.Items.Count == 0 ? "0" : string.Create(CultureInfo.InvariantCulture, $"0 to {node.Items.Count}"))}"
            : $"{Words.Quoted(step)} is not known here; {Words.DidYouMean(step, names)}";

        // Container hosts set variables of their own that begin with the name of a service (SAWEDGE_PORT, SAWEDGE_SERVICE_HOST):
        // an unknown name at the top must not keep the gateway from starting.
        findings.Add(new Finding(isTop ? FindingSeverity.Warning : FindingSeverity.Error, path, message) { Variable = variable });
    }

    /// <summary>The first single value in an object or list, as the end of a variable's name.</summary>
    private static string FirstBelow(TypeDescription type) => type switch
    {
        ListDescription list => $"__0{FirstBelow(list.Item)}",
        MapDescription map => $"__1{FirstBelow(map.Item)}",
        ObjectDescription description => $"__{description.Members[0].Name}{FirstBelow(description.Members[0].Type)}",
        _ => "",
    };

    /// <summary>Variables of earlier items of a list come first, so that new items can be added one after the other.</summary>
    private static int ByStep(string left, string right)
    {
        var a = left.Split("__");
        var b = right.Split("__");
        for (var i = 0; i < Math.Min(a.Length, b.Length); i++)
        {
            var order = int.TryParse(a[i], out var x) && int.TryParse(b[i], out var y) ? x.CompareTo(y) : string.CompareOrdinal(a[i], b[i]);
            if (order != 0)
                return order;
        }

        return a.Length.CompareTo(b.Length);
    }
}
