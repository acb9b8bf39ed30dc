namespace SawEdge.Gateway.Configuration;

/// <summary>Neighbours of one table that one request reads.</summary>
/// <typeparam name="T">What is read.</typeparam>
/// <param name="Items">What is read, by rising address.</param>
/// <param name="Address">First address.</param>
/// <param name="Count">Registers or bits.</param>
/// <param name="Every">How often; null: with each reading of the saw.</param>
internal sealed record RegisterSpan<T>(IReadOnlyList<T> Items, int Address, int Count, TimeSpan? Every);

/// <summary>Which mappings of one unit are read together. Pure functions.</summary>
internal static class RegisterSpans
{
    /// <summary>Most bits in one request: 0x7D0 (Modbus Application Protocol V1.1b3, clauses 6.1 and 6.2).</summary>
    public const int MaximumBits = 2000;

    /// <summary>Most registers in one request: 0x7D (clauses 6.3 and 6.4).</summary>
    public const int MaximumRegisters = 125;

    private const int BitsInARegister = 16;

    /// <summary>
    /// Joins neighbours, up to the protocol's limits. What is read less often is joined with what is read as seldom, or is read along where
    /// the registers between others are asked for anyway.
    /// </summary>
    /// <param name="items">What is to be read.</param>
    /// <param name="mappingOf">Where each stands.</param>
    /// <param name="maximumGap">Registers not asked for that may be read along; sixteen times as many in a table of bits.</param>
    public static List<RegisterSpan<T>> Of<T>(IEnumerable<T> items, Func<T, RegisterMapping> mappingOf, int maximumGap)
    {
        var spans = new List<RegisterSpan<T>>();
        foreach (var table in items.GroupBy(item => mappingOf(item).Table))
        {
            var isBits = table.Key is RegisterTable.Coil or RegisterTable.DiscreteInput;
            var (limit, gap) = isBits ? (MaximumBits, maximumGap * BitsInARegister) : (MaximumRegisters, maximumGap);
            var fast = Join(table.Where(item => mappingOf(item).Every is null), mappingOf, gap, limit, null);
            var slow = new List<T>();
            foreach (var item in table.Where(item => mappingOf(item).Every is not null))
            {
                var around = fast.FindIndex(span => mappingOf(item).Address >= span.Address && End(mappingOf(item)) <= span.Address + span.Count);
                if (around < 0)
                    slow.Add(item);
                else
                    fast[around] = fast[around] with { Items = [.. InOrder(fast[around].Items.Append(item), mappingOf)] };
            }

            spans.AddRange(fast);
            foreach (var rate in slow.GroupBy(item => mappingOf(item).Every))
                spans.AddRange(Join(rate, mappingOf, gap, limit, rate.Key));
        }

        return spans;
    }

    private static List<RegisterSpan<T>> Join<T>(IEnumerable<T> items, Func<T, RegisterMapping> mappingOf, int gap, int limit, TimeSpan? every)
    {
        var spans = new List<RegisterSpan<T>>();
        var joined = new List<T>();
        var (first, end) = (0, 0);
        foreach (var item in InOrder(items, mappingOf))
        {
            var mapping = mappingOf(item);
            if (joined.Count > 0 && (mapping.Address - end > gap || Math.Max(end, End(mapping)) - first > limit))
            {
                spans.Add(new RegisterSpan<T>(joined, first, end - first, every));
                joined = [];
            }

            (first, end) = joined.Count == 0 ? (mapping.Address, End(mapping)) : (first, Math.Max(end, End(mapping)));
            joined.Add(item);
        }

        if (joined.Count > 0)
            spans.Add(new RegisterSpan<T>(joined, first, end - first, every));
        return spans;
    }

    private static IEnumerable<T> InOrder<T>(IEnumerable<T> items, Func<T, RegisterMapping> mappingOf) =>
        items.OrderBy(item => mappingOf(item).Address).ThenBy(item => End(mappingOf(item)));

    private static int End(RegisterMapping mapping) =>
        mapping.Address + (mapping.Table is RegisterTable.Coil or RegisterTable.DiscreteInput ? 1 : mapping.Count);
}
