using CsCheck;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

public sealed class ReadPlanTests
{
    [Fact]
    public void Merge_Neighbours_BecomeOneRead() =>
        Assert.Equal(["HoldingRegisters 100+6"], Plan(8, At(100, RegisterType.Float32), At(102), At(103), At(104, RegisterType.UInt32)));

    [Theory]
    [InlineData(8, "HoldingRegisters 100+10")]
    [InlineData(7, "HoldingRegisters 100+1", "HoldingRegisters 109+1")]
    public void Merge_GapAtAndPastTheMost_JoinsOrNot(int maximumGap, params string[] expected) =>
        Assert.Equal(expected, Plan(maximumGap, At(100), At(109)));

    [Fact]
    public void Merge_BitTables_MayReadSixteenTimesTheGap() =>
        Assert.Equal(
            ["Coils 0+130"],
            Plan(8, At(0) with { Table = RegisterTable.Coil, Type = RegisterType.Bool }, At(129) with { Table = RegisterTable.Coil, Type = RegisterType.Bool }));

    [Fact]
    public void Merge_DifferentTables_AreReadApart() =>
        Assert.Equal(["HoldingRegisters 10+1", "InputRegisters 11+1"], Plan(8, At(10), At(11) with { Table = RegisterTable.Input }));

    [Fact]
    public void Merge_MoreThanOneRequestHolds_IsCutAtTheLimit() =>
        Assert.Equal(["HoldingRegisters 0+124", "HoldingRegisters 124+4"], Plan(200, [.. Enumerable.Range(0, 32).Select(i => At(i * 4, RegisterType.Float64))]));

    [Fact]
    public void Merge_TheReadWithTheHeadPosition_ComesFirst()
    {
        var plan = Plan(8, At(500) with { Signal = Signal.Job }, At(10) with { Signal = Signal.PartCount }, At(900) with { Signal = Signal.HeadPosition }, At(300) with { Signal = Signal.MotorLoad });
        Assert.Equal(["HoldingRegisters 900+1", "HoldingRegisters 300+1", "HoldingRegisters 10+1", "HoldingRegisters 500+1"], plan);
    }

    [Fact]
    public void Merge_SlowSignals_AreReadApartAndLast()
    {
        var slow = TimeSpan.FromSeconds(5);
        var plan = ReadPlan.Merge(Decoders(At(3) with { Every = slow }, At(10), At(11) with { Every = slow }, At(15) with { Every = slow }, At(40) with { Every = TimeSpan.FromSeconds(1) }), 8);
        Assert.Equal(["10+1", "3+13 5", "40+1 1"], plan.Select(read => $"{read.Address}+{read.Count}{(read.Every is { } every ? $" {every.TotalSeconds}" : "")}"));
    }

    [Fact]
    public void Merge_SlowSignalAmongFastOnes_IsReadAlong()
    {
        var read = Assert.Single(ReadPlan.Merge(Decoders(At(10), At(12) with { Every = TimeSpan.FromSeconds(5) }, At(14)), 8));
        Assert.Equal((10, 5, 3, null), (read.Address, read.Count, read.Signals.Count, read.Every));
    }

    [Fact]
    public void Limits_OfTheConfiguration_AreThoseOfTheProtocolClient()
    {
        Assert.Equal(ReadRequest.MaximumBits, RegisterSpans.MaximumBits);
        Assert.Equal(ReadRequest.MaximumRegisters, RegisterSpans.MaximumRegisters);
    }

    [Fact]
    public void Merge_TextLongerThanARequest_SaysWhich()
    {
        var refused = Assert.Throws<ArgumentException>(() => Plan(8, new RegisterMapping { Signal = Signal.BarId, Table = RegisterTable.Input, Address = 0, Type = RegisterType.Ascii, Length = 126 }));
        Assert.Contains("bar_id: 126 registers", refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void TrySplit_WithAGap_CutsAtTheWidest()
    {
        var read = Assert.Single(ReadPlan.Merge(Decoders(At(0), At(3), At(9), At(10)), 8));
        Assert.True(ReadPlan.TrySplit(read, out var first, out var second));
        Assert.Equal((0, 4, 9, 2), (first.Address, first.Count, second.Address, second.Count));
    }

    [Fact]
    public void TrySplit_WithoutAGap_CutsInTheMiddle()
    {
        var read = Assert.Single(ReadPlan.Merge(Decoders(At(0), At(1), At(2), At(3)), 8));
        Assert.True(ReadPlan.TrySplit(read, out var first, out var second));
        Assert.Equal((2, 2), (first.Count, second.Count));
    }

    [Fact]
    public void TrySplit_SignalsThatShareARegister_StayTogether()
    {
        var read = Assert.Single(ReadPlan.Merge(Decoders(At(5), At(5) with { Signal = Signal.Cutting, Bit = 3 }), 8));
        Assert.False(ReadPlan.TrySplit(read, out _, out _));
    }

    [Fact]
    public void MergeAndSplit_AnyMappings_ReadEachSignalOnceWithinTheLimits()
    {
        var mappings =
            from table in Gen.Int[0, 3]
            from type in Gen.Int[0, 11]
            from length in Gen.Int[1, 125]
            from seconds in Gen.Int[0, 2]
            from address in Gen.OneOf(Gen.Int[0, 400], Gen.Int[0, 65400])
            select new RegisterMapping { Signal = Signal.MotorLoad, Table = (RegisterTable)table, Address = (ushort)address, Type = (RegisterType)type, Length = length, Every = seconds == 0 ? null : TimeSpan.FromSeconds(seconds) };
        Gen.Select(mappings.Array[1, 14], Gen.Int[0, 300]).Sample(
            (wanted, maximumGap) =>
            {
                var decoders = Decoders(wanted);
                var reads = ReadPlan.Merge(decoders, maximumGap);
                AssertReadsEachOnce(decoders, reads);
                for (var i = 0; i < reads.Count;)
                {
                    if (!ReadPlan.TrySplit(reads[i], out var first, out var second))
                    {
                        i++;
                        continue;
                    }

                    Assert.True(first.Address + first.Count <= second.Address);
                    reads[i] = first;
                    reads.Insert(i + 1, second);
                }

                AssertReadsEachOnce(decoders, reads);
            },
            iter: 2_000);
    }

    private static void AssertReadsEachOnce(List<SignalDecoder> decoders, List<PlannedRead> reads)
    {
        Assert.Equal(decoders.Count, reads.Sum(read => read.Signals.Count));
        Assert.Equal(decoders.ToHashSet(), reads.SelectMany(read => read.Signals).ToHashSet());
        foreach (var read in reads)
        {
            // The request's own constructor holds the protocol's limits.
            Assert.Equal(read.Count, new ReadRequest(1, read.Table, read.Address, read.Count).Quantity);
            Assert.All(read.Signals, signal => Assert.True(
                PlannedRead.ToTable(signal.Mapping.Table) == read.Table && signal.Mapping.Address >= read.Address && signal.End <= read.Address + read.Count));
        }
    }

    private static RegisterMapping At(int address, RegisterType type = RegisterType.UInt16) =>
        new() { Signal = Signal.BladeSpeed, Table = RegisterTable.Holding, Address = (ushort)address, Type = type };

    private static List<SignalDecoder> Decoders(params RegisterMapping[] mappings) => [.. mappings.Select(mapping => new SignalDecoder(mapping))];

    private static IEnumerable<string> Plan(int maximumGap, params RegisterMapping[] mappings) =>
        ReadPlan.Merge(Decoders(mappings), maximumGap).Select(read => $"{read.Table} {read.Address}+{read.Count}");
}
